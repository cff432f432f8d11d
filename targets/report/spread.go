package report

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/words"
)

// spread is what boards are like with the tolerances of their parts.
func spread(p *page, b *compiler.Build) {
	x := b.Batch
	if x == nil {
		return
	}
	p.heading(fmt.Sprintf("Boards of a batch: %d simulated, parts within their tolerances, %s", x.Boards, state(x)))
	var t words.Table
	t.Row("error", "50 %", "95 %", "99 %", "furthest", "at", "95 % trimmed", "95 % of pairs", "worst corner")
	db := func(a batch.Place) string { return fmt.Sprintf("%.2f dB", math.Abs(a.DB)) }
	for _, r := range x.Rows {
		corner := r.Highest
		if -r.Lowest.DB > corner.DB {
			corner = r.Lowest
		}
		t.Row(r.Name, db(r.Plain.P50), db(r.Plain.P95), db(r.Plain.P99), db(r.Plain.Worst), words.Hz(r.Plain.Worst.Hz), db(r.Trimmed.P95), db(r.Match.P95), db(corner))
	}
	p.table(&t)
	p.note(yields(x))
	var classes []string
	for _, c := range x.Classes {
		classes = append(classes, fmt.Sprintf("of %s %s", words.Share.Limit(c.Tolerance), words.Share.Measured(c.Plain.Share)))
	}
	p.note(fmt.Sprintf("within %s with all capacitors %s (%d boards)", words.DB.Limit(x.LimitDB), strings.Join(classes, ", "), x.Classes[0].Plain.Boards))
	p.note(widest(x))
	if x.Purchase != nil {
		p.note(fmt.Sprintf("classes with which %s: %s", becomes(x.Purchase), strings.Join(x.Purchase.Sentences(mostClassRefs), "; ")))
	}
	for _, r := range x.Rejections[:min(1, len(x.Rejections))] {
		p.note(fmt.Sprintf("common-mode rejection at %s: half of the boards have %s dB or more, 95 %% have %s, the worst has %s",
			words.Hz(r.Hz), words.Short(r.P50), words.Short(r.P95), words.Short(r.Worst)))
	}
}

// mostClassRefs is how many parts of a closer class the report names.
const mostClassRefs = 6

// becomes says what becomes of the yield with the classes that parts are bought in.
func becomes(p *batch.Purchase) string {
	if p.Kept {
		return "the yield holds"
	}
	return "the yield misses by least, the closest of all"
}

// widest says where the spread is greatest, and the parts that make most of it.
func widest(x *batch.Batch) string {
	most := x.Rows[0]
	for _, r := range x.Rows {
		if r.Widest.DB > most.Widest.DB {
			most = r
		}
	}
	var parts []string
	share := 0.0
	for _, m := range most.Matters[:min(3, len(most.Matters))] {
		parts, share = append(parts, m.Ref), share+m.Share
	}
	if parts == nil {
		return "no part moves the level"
	}
	return fmt.Sprintf("widest in %s at %s, %.0f %% of it by %s: `bandwright explain --board SPEC` shows the parts that matter in each way",
		most.Name, words.Hz(most.Widest.Hz), 100*share, words.List(parts))
}

// state says in which state boards are judged.
func state(x *batch.Batch) string {
	if x.Drifts {
		return "as delivered and aged, at both ends of the temperature"
	}
	return "as delivered"
}

// yields says which share of boards is within limits.
func yields(x *batch.Batch) string {
	share := func(y batch.Yield) string { return words.Share.Measured(y.Share) }
	of := func(all []batch.Yield) string {
		y := all[0]
		s := fmt.Sprintf("%s within %s (%s to %s with a confidence of 95 %%)", share(y), words.DB.Limit(y.LimitDB), words.Share.Measured(y.Low), words.Share.Measured(y.High))
		for _, y := range all[1:] {
			if y.LimitDB != x.LimitDB {
				s += fmt.Sprintf(", %s within %s", share(y), words.DB.Limit(y.LimitDB))
			}
		}
		return s
	}
	return fmt.Sprintf("every way and the sum, every setting: %s; with a level trimmer of +-%s in each way %s", of(x.Plain), words.DB.Limit(x.AssumedTrimDB), of(x.Trimmed))
}
