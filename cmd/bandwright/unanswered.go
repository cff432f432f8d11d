package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/compare"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// seenFrom is a file as accepted results in dir name it: relative, with slashes;
// its name alone where there is no such way.
func seenFrom(dir, file string) string {
	from, err1 := filepath.Abs(dir)
	to, err2 := filepath.Abs(file)
	rel, err3 := filepath.Rel(from, to)
	if err := errors.Join(err1, err2, err3); err != nil {
		return filepath.Base(file)
	}
	return filepath.ToSlash(rel)
}

// unanswered are the accepted results of the folder that no spec answers for: a
// regression each. The spec of such a result was given and has another name, or its
// file is gone from a folder that specs were given of; a spec that the call leaves
// out still answers where it lies.
func (c Check) unanswered(ctx context.Context, all []judged) ([]judged, error) {
	if c.Against == "" {
		return nil, nil
	}
	entries, err := os.ReadDir(c.Against)
	if err != nil {
		return nil, nil // what is missing there was said of every spec
	}
	answered := map[string]bool{}
	for _, j := range all {
		if j.compiled {
			answered[j.name] = true
		}
	}
	var out []judged
	for _, e := range entries {
		name, is := strings.CutSuffix(e.Name(), acceptedEnding)
		if !is || answered[name] || strings.HasPrefix(name, ".") {
			continue
		}
		path := filepath.Join(c.Against, e.Name())
		a, err := openAccepted(ctx, path)
		if errors.Is(err, errInterrupted) {
			return nil, err
		}
		if err != nil || a.SpecFile == "" {
			continue // nothing is known of its spec
		}
		if why := c.gone(ctx, a, all); why != "" {
			out = append(out, judged{file: path, unanswered: true, change: lost(name, fmt.Sprintf(
				"%s, and no spec answers for what was accepted as %s: to accept that, delete %s", why, name, path))})
		}
	}
	return out, nil
}

// lost is the comparison of an accepted result with nothing.
func lost(name, sentence string) *compare.Comparison {
	return &compare.Comparison{Name: name, Regression: true, Totals: []string{},
		Changes: []compare.Change{{Kind: compare.OfOffer, Causes: []string{}, Beyond: true, Sentence: sentence}}}
}

// gone says what became of the spec of an accepted result, "" where it may still
// be there.
func (c Check) gone(ctx context.Context, a *result.Accepted, all []judged) string {
	file := filepath.Join(c.Against, filepath.FromSlash(a.SpecFile))
	folders := []string{filepath.Dir(file)}
	if !exists(folders[0]) { // the accepted results lie elsewhere than they did
		folders = nil
	}
	var given []string
	for _, spec := range c.Specs {
		given = append(given, filepath.Dir(spec))
	}
	if folders == nil {
		folders = words.Once(given)
	} else if !slices.ContainsFunc(given, func(dir string) bool { return sameFile(dir, folders[0]) }) {
		return ""
	}
	for _, dir := range folders {
		at := filepath.Join(dir, filepath.Base(file))
		if i := slices.IndexFunc(all, func(j judged) bool { return sameFile(j.file, at) }); i >= 0 {
			if !all[i].compiled {
				return "" // a bad spec has no name, which is said
			}
			return fmt.Sprintf("the name in %s is %s now", all[i].file, all[i].name)
		}
		if exists(at) || named(ctx, dir, a.Name) {
			return ""
		}
	}
	return fmt.Sprintf("%s is gone", file)
}

// named reports whether a spec in a folder has a name, whatever its file is called.
func named(ctx context.Context, dir, name string) bool {
	files, _ := filepath.Glob(filepath.Join(dir, "*.y*ml"))
	return slices.ContainsFunc(files, func(file string) bool {
		data, err := read(ctx, file)
		if err != nil {
			return false
		}
		s, _ := language.Parse(file, data, compiler.Language())
		return s != nil && s.Name == name
	})
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// sameFile reports whether two paths are one file or folder.
func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

// tally is what became of many specs, in one line.
func tally(specs int, all []judged, accepting bool) string {
	kept, broken, regressions := 0, 0, 0
	for _, j := range all {
		switch {
		case !j.compiled:
		case verify.Kept(j.findings):
			kept++
		default:
			broken++
		}
		if j.unanswered || j.change != nil && j.change.Regression && !accepting {
			regressions++
		}
	}
	text := fmt.Sprintf("%s: %d kept, %d broken, %s", words.Count(specs, "spec", "specs"), kept, broken, words.Count(regressions, "regression", "regressions"))
	if bad := specs - kept - broken; bad > 0 {
		text += fmt.Sprintf(", %d not judged", bad)
	}
	return text
}
