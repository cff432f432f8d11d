package result

import (
	"bytes"
	"encoding/json"

	"bandwright/compiler"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// Promises are the limits in force.
type Promises struct {
	BandHz   [2]float64
	DownToDB float64
	Limits   []Limit // as the promise table has them
}

// Limit is the limit of one promise; nil (null) where the spec drops it.
type Limit struct {
	Field string // "magnitude_db"
	Value *float64
}

// limits are a build's promises: those that are null where they are off, and
// those of the others that some realisation of the build is held to.
func limits(b *compiler.Build) Promises {
	p := Promises{BandHz: [2]float64{b.Promises.LowHz, b.Promises.HighHz}, DownToDB: b.Promises.DownToDB}
	realisations := b.Realisations()
	for _, r := range promise.All {
		if !r.InSpec() {
			continue
		}
		l := Limit{Field: r.Field()}
		if x := b.Promises.Limit(r); x.On {
			l.Value = &x.Value
		}
		if r.Null || l.Value != nil && (r.InAir && b.Air != nil || heldTo(realisations, r)) {
			p.Limits = append(p.Limits, l)
		}
	}
	return p
}

// heldTo reports whether one of the realisations is held to a promise.
func heldTo(all []verify.Realisation, p *promise.Row) bool {
	for _, r := range all {
		if p.MeasuredOf(r) {
			return true
		}
	}
	return false
}

// MarshalJSON writes band_hz, down_to_db and then a field for each limit.
func (p Promises) MarshalJSON() ([]byte, error) {
	var out bytes.Buffer
	var failed error
	add := func(field string, v any) {
		text, err := json.Marshal(v)
		if err != nil {
			failed = err
		}
		out.WriteString(`,"` + field + `":`)
		out.Write(text)
	}
	add("band_hz", p.BandHz)
	add("down_to_db", p.DownToDB)
	for _, l := range p.Limits {
		add(l.Field, l.Value)
	}
	return append(append([]byte{'{'}, out.Bytes()[1:]...), '}'), failed
}

// UnmarshalJSON reads the fields of the promises that there are.
func (p *Promises) UnmarshalJSON(data []byte) error {
	*p = Promises{}
	var place struct {
		BandHz   [2]float64 `json:"band_hz"`
		DownToDB float64    `json:"down_to_db"`
	}
	fields := map[string]json.RawMessage{}
	if err := json.Unmarshal(data, &place); err != nil {
		return err
	}
	if err := json.Unmarshal(data, &fields); err != nil {
		return err
	}
	p.BandHz, p.DownToDB = place.BandHz, place.DownToDB
	for _, r := range promise.All {
		text, there := fields[r.Field()]
		if !there || !r.InSpec() {
			continue
		}
		l := Limit{Field: r.Field()}
		if err := json.Unmarshal(text, &l.Value); err != nil {
			return err
		}
		p.Limits = append(p.Limits, l)
	}
	return nil
}
