package compiler

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"bandwright/compiler/batch"
	"bandwright/compiler/language"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// usualClasses are the tolerances that film capacitors are sold with.
var usualClasses = [...]float64{0.05, 0.02, 0.01}

// usualTrimDB is what a level trimmer can do, and fineResistors the tolerance of the
// finest resistors that are no rarity.
const usualTrimDB, fineResistors = 1, 0.001

// batchChanges are what a spec could say otherwise of a batch that breaks a promise: of
// each list the first that helps is told, of the last one where none of the others does.
func batchChanges(x *batch.Batch, capacitors, resistors float64) [][]batch.Change {
	var classes, trim, together []batch.Change
	both := batch.Change{}
	for _, class := range usualClasses {
		if class < capacitors {
			both.Capacitors = class
			classes = append(classes, both)
		}
	}
	if x.TrimDB < usualTrimDB {
		both.TrimDB = usualTrimDB
		trim = append(trim, batch.Change{TrimDB: usualTrimDB})
		if both.Capacitors > 0 {
			together = append(together, both)
		}
	}
	if resistors > fineResistors {
		together = append(together, batch.Change{Capacitors: both.Capacitors, Resistors: fineResistors})
		if both.TrimDB > 0 {
			both.Resistors = fineResistors
			together = append(together, both)
		}
	}
	return [][]batch.Change{classes, trim, together}
}

// line is a change as lines of the spec, or of its stock files.
func line(c batch.Change, spec *language.Board) string {
	var parts []string
	add := func(key string, on bool, value string) {
		if on {
			parts = append(parts, key+": "+value)
		}
	}
	class := func(name string, of *language.Stock, tolerance float64) {
		key := "board." + name + ".tolerance"
		if of.File.Name != "" {
			key = name + " in " + of.File.Name
		}
		add(key, tolerance > 0, words.Share.Limit(tolerance))
	}
	class("capacitors", &spec.Capacitors, c.Capacitors)
	class("resistors", &spec.Resistors, c.Resistors)
	add("board.trim", c.TrimDB > 0, words.DB.Limit(c.TrimDB))
	return words.List(parts)
}

// offAlready tells that the board with exact parts is further from the ideal than its batch may be, so that no
// tolerance brings the batch nearer; "" where it is not, or where the promise is of boards beside each other.
func (b *Build) offAlready(broken *verify.Finding, findings []verify.Finding) string {
	allowed := b.Promises.Limit(&promise.BoardSpread)
	for _, f := range findings {
		if f.Promise == promise.BoardMagnitude.Name && !f.Kept && f.Worst > allowed.Value && promise.ByName(broken.Promise).Of != verify.Match {
			return "with exact parts the board is " + words.Level(f.Worst, "dB") + " off already: mend " + f.Promise + " first"
		}
	}
	return ""
}

// adviseBatch says of each promise that a batch breaks which class of parts or which
// trim would keep it: those with which the same boards do.
func (b *Build) adviseBatch(ctx context.Context, findings []verify.Finding) {
	var broken []*verify.Finding
	for i := range findings {
		f := &findings[i]
		if r := promise.ByName(f.Promise); !f.Kept && r != nil && r.Of != nil && r.Of.OfBatch() {
			broken = append(broken, f)
		}
	}
	if b.Batch == nil || broken == nil {
		return
	}
	var tried []string
	found := make([][]string, len(broken))
	all := batchChanges(b.Batch, b.Spec.Board.Capacitors.Closest(), b.Spec.Board.Resistors.Closest())
	for kind, list := range all {
		missing := make([]bool, len(broken))
		for i := range broken {
			missing[i] = kind < len(all)-1 || found[i] == nil
		}
		for _, c := range list {
			if !slices.Contains(missing, true) || ctx.Err() != nil {
				break
			}
			progress.Say(ctx, "trying what would bring the batch nearer: "+line(c, b.Spec.Board))
			now := verify.JudgeBatch(b.BoardSubject(), batch.Built{Board: b.Board, Batch: b.Batch.With(ctx, c)}, b.Promises.Terms())
			tried = append(tried, line(c, b.Spec.Board))
			for i, f := range broken {
				if missing[i] && slices.ContainsFunc(now, func(g verify.Finding) bool { return g.Promise == f.Promise && g.Kept }) {
					found[i], missing[i] = append(found[i], line(c, b.Spec.Board)), false
				}
			}
		}
	}
	for i, f := range broken {
		if found[i] == nil {
			found[i] = []string{"nothing tried does (" + strings.Join(tried, "; ") + "): " + cmp.Or(b.offAlready(f, findings), "change the filters")}
		}
		f.Remedy = strings.Join(append(found[i], f.Remedy), ", or ")
	}
}
