package acoustic

import (
	"fmt"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// usualPortQ is of a port whose losses the spec does not give.
const usualPortQ = 50

// Named are the mountings and the wirings as rows of the language.
func Named() (mountings, wirings []language.Named) {
	for _, m := range Mountings {
		mountings = append(mountings, language.Named{Name: m.Name, Doc: m.Doc})
	}
	for _, w := range Wirings {
		wirings = append(wirings, language.Named{Name: w.Name, Doc: w.Doc})
	}
	return mountings, wirings
}

// Modelled are the drivers of each way that a spec describes by parameters, nil for a way
// without; with faults where parameters contradict each other or a mounting means nothing.
func Modelled(s *language.Spec) ([]*Mounted, []language.Fault) {
	var faults []language.Fault
	say := func(at language.Pos, args *language.Value, problems []Problem) {
		for _, p := range problems {
			place := at
			if v := args.Get(p.Key); v != nil && v.Given {
				place = v.Pos
			}
			faults = append(faults, s.Fault(language.Error, place, p.Message, p.Right))
		}
	}
	drivers := make([]Driver, len(s.Drivers))
	for i, d := range s.Drivers {
		var problems []Problem
		drivers[i], problems = parameters(d.Args).Driver()
		say(d.Pos, d.Args, problems)
	}
	out := make([]*Mounted, len(s.Ways))
	for i, w := range s.Ways {
		d := w.Driver
		if d == nil || d.Model < 0 {
			continue
		}
		m, _ := MountingNamed(d.Mounting)
		wiring, _ := WiringNamed(d.Wiring)
		if problems := fits(d, m, wiring); len(problems) > 0 {
			say(d.Pos, d.Args, problems)
			continue
		}
		out[i] = Mount(drivers[d.Model], d.Count, wiring, m, enclosure(d.Args))
	}
	return out, faults
}

// number is that of a key, 0 where it is not there.
func number(v *language.Value, key string) float64 {
	if x := v.Get(key); x != nil {
		return x.Number
	}
	return 0
}

func parameters(v *language.Value) Parameters {
	n := func(key string) float64 { return number(v, key) }
	return Parameters{ResonanceHz: n(keyResonance), QElectrical: n(keyQE), QMechanical: n(keyQM), QTotal: n(keyQT), MassKg: n(keyMass),
		Compliance: n(keyCompliance), VolumeM3: n(keyVolume), ForceFactor: n(keyBl), Damping: n(keyDamping),
		AreaM2: n("area"), CoilOhm: n("coil-resistance"), CoilH: n("coil-inductance"), ExcursionM: n("excursion")}
}

func enclosure(v *language.Value) Enclosure {
	e := Enclosure{VolumeM3: number(v, KeyVolume), TuningHz: number(v, KeyTuning), PortQ: number(v, KeyPortQ), WidthM: number(v, KeyWidth), PathM: number(v, KeyPath)}
	if e.PortQ == 0 {
		e.PortQ = usualPortQ
	}
	return e
}

// fits says what is wrong with a mounting's keys, and with the wiring.
func fits(d *language.WayDriver, m Mounting, w Wiring) (out []Problem) {
	for _, key := range m.Needs {
		if d.Args.Get(key) == nil {
			out = append(out, Problem{"mounting", fmt.Sprintf("the mounting `%s` lacks `%s`", m.Name, key), "add `" + key + ": " + exampleOf[key] + "`"})
		}
	}
	for _, key := range []string{KeyVolume, KeyTuning, KeyPortQ, KeyWidth, KeyPath} {
		if d.Args.Get(key) == nil || slices.Contains(m.Needs, key) || slices.Contains(m.Takes, key) {
			continue
		}
		var of []string
		for _, x := range Mountings {
			if slices.Contains(x.Needs, key) || slices.Contains(x.Takes, key) {
				of = append(of, "`"+x.Name+"`")
			}
		}
		out = append(out, Problem{key, fmt.Sprintf("`%s` means nothing for the mounting `%s`", key, m.Name), "leave it out: it belongs to " + words.List(of)})
	}
	if !w.Counts(d.Count) {
		out = append(out, Problem{"wiring", fmt.Sprintf("%s cannot be connected `%s`", words.Count(d.Count, "driver", "drivers"), w.Name), w.Right})
	}
	return out
}

var exampleOf = map[string]string{KeyVolume: "38 l", KeyTuning: "31 Hz", KeyPath: "11 cm"}
