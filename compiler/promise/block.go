package promise

import (
	"maps"

	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// Parameter is a key of the promise block that promises nothing by itself: it
// says where promises hold.
type Parameter struct {
	language.Key
	// Weaker reports whether the promises reach less far with the new value.
	Weaker func(old, new *language.Value) bool
}

// Band is the band that promises hold in.
var Band = Parameter{
	Key: language.Key{Name: "band", Effect: language.Promises | language.RealisesDigital | language.RealisesBoard, Type: language.Type{Range: true, Dims: []language.Dim{language.Frequency}, Min: 0.1, Max: 384e3}, Default: "20 Hz to 20 kHz",
		Doc: "The frequency range of the promises; at each rate up to 0.46 of it.", Example: "20 Hz to 20 kHz"},
	Weaker: func(o, n *language.Value) bool { return n.Number > o.Number || n.High < o.High },
}

// DownTo is how far below its peak a way is judged.
var DownTo = Parameter{
	Key: language.Key{Name: "down-to", Effect: language.Promises | language.RealisesDigital, Type: language.Type{Dims: []language.Dim{language.Level}, Min: -200, Max: 0}, Default: "-60 dB",
		Doc: "How far below its peak a way's response is checked, dB.", Example: "-60 dB"},
	Weaker: func(o, n *language.Value) bool { return n.Number > o.Number },
}

// AcousticBand is where the sum in the air is judged.
var AcousticBand = Parameter{
	Key: language.Key{Name: "acoustic-band", Effect: language.Promises, Type: language.Type{Range: true, Dims: []language.Dim{language.Frequency}, Min: 5, Max: 20e3},
		Doc: "Where `acoustic-sum` holds; by default from the lowest to the highest frequency at which two ways are within 20 dB of each other.", Example: "80 Hz to 12 kHz"},
	Weaker: Band.Weaker,
}

// atLevel is the level of the input at which drivers and amplifiers are judged.
var atLevel = language.Key{Name: "at", Effect: language.Promises, Type: language.Type{Dims: []language.Dim{language.Level}, Min: -120, Max: 0},
	Doc: "Level of the largest sine at the input re full scale, dB; without it the greatest level that holds is told, and none is promised.", Example: "-12 dB"}

// Keys is the promise block in the grammar.
func Keys() []language.Key {
	keys := []language.Key{Band.Key}
	for _, r := range All {
		if r.InSpec() {
			keys = append(keys, r.Key())
		}
		for _, p := range r.beside {
			keys = append(keys, p.Key)
		}
	}
	return keys
}

// parameters are those of the block.
var parameters = []*Parameter{&Band, &DownTo, &AcousticBand, {Key: atLevel, Weaker: func(o, n *language.Value) bool { return n.Number < o.Number }}}

// Weaker reports whether a key of the block demands less than it did. old is
// nil where it was not there.
func Weaker(key string, old, new *language.Value) bool {
	if old == nil || old.Word == off {
		return false
	}
	if new.Word == off {
		return true
	}
	for _, p := range parameters {
		if p.Name == key {
			return p.Weaker(old, new)
		}
	}
	if r := ByName(key); r != nil && (r.Distance || r.LessIsWorse) {
		return new.Number < old.Number
	}
	return new.Number > old.Number
}

// Promises are the limits that a spec demands, and where.
type Promises struct {
	verify.Extent
	// AirLowHz and AirHighHz are where the sum in the air is judged, 0 where the spec leaves
	// it to the crossovers.
	AirLowHz, AirHighHz float64
	limits              map[*Row]Limit
}

// Read is the promise block of a spec, whose keys the grammar has all filled
// in.
func Read(s *language.Spec) Promises {
	block := s.Promise
	band := block.Get(Band.Name)
	p := Promises{Extent: verify.Extent{LowHz: band.Number, HighHz: band.High, DownToDB: block.Get(DownTo.Name).Number}, limits: map[*Row]Limit{}}
	if air := block.Get(AcousticBand.Name); air != nil {
		p.AirLowHz, p.AirHighHz = air.Number, air.High
	}
	for _, r := range All {
		if r.InSpec() {
			p.limits[r] = r.limit(block, s.HasDrivers())
		}
	}
	return p
}

// Terms are the promises as realisations are held to them.
func (p Promises) Terms() verify.Terms {
	t := verify.Terms{Extent: p.Extent}
	for _, r := range All {
		l := p.Limit(r)
		if r.Distance {
			l.Value = 0 - l.Value
		}
		if l.On && r.Of != nil && (r.Within == nil || p.Limit(r.Within).On) {
			t.Demands = append(t.Demands, verify.Demand{Promise: &r.Promise, Limit: l.Value})
		}
	}
	return t
}

// Limit is what is demanded of a promise, as the spec writes it.
func (p Promises) Limit(r *Row) Limit {
	if !r.InSpec() {
		return r.Default
	}
	return p.limits[r]
}

// Goal is a promise's limit, or its default where the spec drops it, so that a
// realisation is no worse for not being judged. It is for promises whose
// default is not off.
func (p Promises) Goal(r *Row) float64 {
	if l := p.Limit(r); l.On {
		return l.Value
	}
	return r.Default.Value
}

// With is the promises with another limit on one.
func (p Promises) With(r *Row, l Limit) Promises {
	p.limits = maps.Clone(p.limits)
	if p.limits == nil {
		p.limits = map[*Row]Limit{}
	}
	p.limits[r] = l
	return p
}
