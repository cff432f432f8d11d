package language

import "fmt"

// Room is where a pair of loudspeakers stands, seen from the listener: distances in m, 0 for a
// surface that the spec does not give.
type Room struct {
	ListenerM, BaseM, HeightM, EarM        float64
	CeilingM, LeftM, RightM, FrontM, RearM float64
	ToListener                             bool
	TurnedDegrees                          float64
}

// toListener is the word for loudspeakers that are turned to the listener.
const toListener = "to-listener"

// roomKey is the block of distances; none without mountings, as drivers.
func roomKey(lang Tables) []Key {
	if len(lang.Mountings) == 0 {
		return nil
	}
	return []Key{{Name: "room", Effect: Radiates, Type: Type{Keys: roomKeys()},
		Doc: "Where a pair of loudspeakers stands: for its first reflections at the listener.", Example: "{listener: 2.8 m, base: 2.4 m, height: 0.9 m, ceiling: 2.5 m}"}}
}

func roomKeys() []Key {
	length := func(name, doc, example string, least float64) Key {
		return Key{Name: name, Effect: Radiates, Type: within(Length, least, 50), Doc: doc, Example: example}
	}
	required := func(k Key) Key {
		k.Required = true
		return k
	}
	ear := length("ear", "Height of the listener's ears above the floor, m.", "1.1 m", 0.1)
	ear.Default = "1.1 m"
	return []Key{
		required(length("listener", "From the line between both loudspeakers to the listener, m.", "2.8 m", 0.3)),
		required(length("base", "From one loudspeaker to the other, m.", "2.4 m", 0.1)),
		required(length("height", "Height of the loudspeakers' axis above the floor, m.", "0.9 m", 0.05)),
		ear,
		length("ceiling", "Height of the ceiling above the floor, m; not looked at by default.", "2.5 m", 0.5),
		length("left", "From the left loudspeaker to the wall on its left, m; not looked at by default.", "0.8 m", 0.05),
		length("right", "From the right loudspeaker to the wall on its right, m; not looked at by default.", "1.6 m", 0.05),
		length("front", "From the loudspeakers to the wall behind them, m; not looked at by default.", "0.7 m", 0.05),
		length("rear", "From the listener to the wall behind, m; not looked at by default.", "1.9 m", 0.05),
		{Name: "turned", Effect: Radiates, Type: Type{Dims: []Dim{Angle}, Max: 90, Words: []string{toListener}}, Default: toListener,
			Doc: "By how much the loudspeakers are turned inwards, degrees.", Example: "15 deg"},
	}
}

// room reads the block.
func (b *builder) room(v *Value) {
	if v == nil {
		return
	}
	n := func(key string) float64 { return v.Get(key).number() }
	r := &Room{ListenerM: n("listener"), BaseM: n("base"), HeightM: n("height"), EarM: n("ear"), CeilingM: n("ceiling"), LeftM: n("left"), RightM: n("right"),
		FrontM: n("front"), RearM: n("rear"), ToListener: v.word("turned") == toListener, TurnedDegrees: n("turned")}
	for _, key := range []string{"height", "ear"} {
		if x := v.Get(key); x != nil && r.CeilingM > 0 && x.Number >= r.CeilingM {
			b.fault(v.Get("ceiling").Pos, fmt.Sprintf("the ceiling is no higher than `%s`, %s", key, x.Text), "heights are above the floor")
		}
	}
	b.spec.Room = r
}
