package compiler

import (
	"context"
	"fmt"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/progress"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// mostTogether is how many sets of pieces of advice are tried together.
const mostTogether = 12

// together tries what is advised of several promises together: one piece of each promise, in every choice of them. Where some
// choice does not keep all, only the pieces of one that does are left, or else it is said that they do not go together.
func (b *Build) together(ctx context.Context, all []*boardAdvice) {
	var questions []*verify.Finding
	for _, a := range all {
		questions = append(questions, a.finding)
	}
	known := map[string]bool{}
	holds := func(choice []int) bool {
		var texts []string
		var changes []func(*language.Board)
		for i, a := range all {
			if p := a.pieces[choice[i]]; !slices.Contains(texts, p.text) {
				texts, changes = append(texts, p.text), append(changes, p.change)
			}
		}
		slices.Sort(texts)
		key := words.List(texts)
		if ok, tried := known[key]; tried || len(texts) < 2 || ctx.Err() != nil {
			return ok || len(texts) < 2
		}
		progress.Say(ctx, "trying "+key)
		found := b.judgedWith(ctx, func(block *language.Board) {
			for _, c := range changes {
				c(block)
			}
		}, questions)
		known[key] = others(b.Findings, found) == "" && !slices.ContainsFunc(questions, func(f *verify.Finding) bool { return !kept(found, f) })
		return known[key]
	}
	var good []int
	every := true
	for _, choice := range choicesOf(all) {
		if holds(choice) {
			if good == nil {
				good = choice
			}
			continue
		}
		every = false
	}
	if every {
		return
	}
	for i, a := range all {
		if good != nil {
			a.pieces = []piece{a.pieces[good[i]]}
			continue
		}
		a.finding.Note = noted(a.finding.Note, fmt.Sprintf("tried together, what is advised of %s does not keep all of it", abouts(all)))
	}
}

// choicesOf are the choices of one piece of each advice, the first pieces first: all of them, or of very many those in which one
// alone is not the first.
func choicesOf(all []*boardAdvice) [][]int {
	out := [][]int{make([]int, len(all))}
	count := 1
	for _, a := range all {
		count *= len(a.pieces)
	}
	for i, a := range all {
		for _, c := range slices.Clone(out) {
			for k := 1; k < len(a.pieces); k++ {
				if count > mostTogether && slices.ContainsFunc(c, func(n int) bool { return n > 0 }) {
					continue
				}
				d := slices.Clone(c)
				d[i] = k
				out = append(out, d)
			}
		}
	}
	return out
}

// abouts lists what advice is about.
func abouts(all []*boardAdvice) string {
	var out []string
	for _, a := range all {
		out = append(out, a.finding.About)
	}
	return words.List(words.Once(out))
}

// noted is a note with one thing more to say.
func noted(note, more string) string {
	if note == "" {
		return more
	}
	return note + "; " + more
}
