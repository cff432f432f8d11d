package main

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/words"
)

// corners prints where each crossover may lie.
func (v Suggest) corners(con console, w *compiler.Wanted) error {
	if v.Way != "" || v.Write || v.Response != "" || len(v.Target) > 0 {
		return refused("--corners is about all crossovers of the spec: no WAY, no --response, --target or --write goes with it")
	}
	all := w.Corners()
	if len(all) == 0 {
		return refused("%s has no crossover between two ways whose drivers are known: give both a `driver`", v.Spec)
	}
	var b strings.Builder
	broken := false
	for _, c := range all {
		b.WriteString(cornersText(c))
		broken = broken || len(c.Ranges) == 0
	}
	if _, err := fmt.Fprint(con.out, b.String()); err != nil {
		return failed("the result cannot be printed: %v", reason(err))
	}
	if broken {
		return outcome{code: exitBroken}
	}
	return nil
}

// cornersText says where a crossover may lie, and why not elsewhere.
func cornersText(c compiler.Corners) string {
	var b strings.Builder
	say := func(first, format string, args ...any) {
		for _, l := range words.Wrap(fmt.Sprintf(format, args...), first, "    ", summaryWidth) {
			b.WriteString(l + "\n")
		}
	}
	var ranges []string
	for _, r := range c.Ranges {
		ranges = append(ranges, words.Hz(words.Round(r[0], 3))+" to "+words.Hz(words.Round(r[1], 3)))
	}
	where := words.OrList(ranges)
	if len(ranges) == 0 {
		where = "nowhere"
	}
	say("", "%s and %s: %s; the spec has %s", c.Lower, c.Upper, where, words.Hz(c.NowHz))
	say("  ", "excursion: %s", travelText(c.Upper, c.Above, c.LevelDB, "high-pass", "from", "below"))
	say("  ", "excursion: %s", travelText(c.Lower, c.Below, c.LevelDB, "low-pass", "up to", "above"))
	if c.ResonanceHz > 0 {
		say("  ", "resonance: %s rolls off by itself below %s", c.Upper, words.Hz(words.Round(c.ResonanceHz, 3)))
	}
	if !c.KnowsPattern {
		say("  ", "pattern: not known off the axis of both")
		return b.String()
	}
	if len(c.Alike) == 0 {
		say("  ", "pattern: nowhere within %s dB of each other", words.Short(c.WithinDB))
	}
	for _, a := range c.Alike {
		text := fmt.Sprintf("pattern: within %s dB of each other from %s to %s", words.Short(c.WithinDB), words.Hz(words.Round(a.FromHz, 3)), words.Hz(words.Round(a.ToHz, 3)))
		if a.FromDegrees > 0 {
			text += fmt.Sprintf("; below, they part at %s degrees", words.Short(a.FromDegrees))
		}
		if a.ToDegrees > 0 {
			text += fmt.Sprintf("; above, they part at %s degrees", words.Short(a.ToDegrees))
		}
		say("  ", "%s", text)
	}
	var parts []string
	if c.BeamsHz > 0 {
		parts = append(parts, "begins to beam at "+words.Hz(words.Round(c.BeamsHz, 3)))
	}
	if c.EightToHz > 0 && !math.IsInf(c.EightToHz, 1) {
		parts = append(parts, "leaves its figure of eight at "+words.Hz(words.Round(c.EightToHz, 3)))
	}
	if parts != nil {
		say("  ", "%s %s", c.Lower, words.List(parts))
	}
	return b.String()
}

// travelText says how a corner bears on a way's excursion.
func travelText(way string, t compiler.Travel, db float64, side, within, beyond string) string {
	limit := fmt.Sprintf("%s mm at %s dB re full scale", words.Short(t.LimitM*1e3), words.Exact(db))
	switch worst := words.Hz(words.Round(t.WorstHz, 3)); {
	case !t.Known:
		return fmt.Sprintf("nothing is known of %s (an `excursion` of its driver, an `amplifier`)", way)
	case t.None && side == "low-pass":
		return fmt.Sprintf("%s passes %s at %s with the corner that the spec has: a lower level or a high-pass mends that, no crossover", way, limit, worst)
	case t.None:
		return fmt.Sprintf("%s passes %s with any corner, first at %s", way, limit, worst)
	case t.Any:
		return fmt.Sprintf("%s holds %s with any corner", way, limit)
	default:
		return fmt.Sprintf("%s %s, with the %s that the spec has; %s that %s passes %s, first at %s", within, words.Hz(words.Round(t.HoldsHz, 3)), side, beyond, way, limit, worst)
	}
}
