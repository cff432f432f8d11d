package selfcheck

import (
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/targets/cheader"
)

// ownNames are what the three files of a spec without settings of these names call things, functions behind the stem
// and macros behind it in capitals, but for what they call after the spec.
func (f firmware) ownNames(b *compiler.Build) []string {
	var out []string
	for _, m := range regexp.MustCompile(`\b(?:`+f.stem+`|`+f.upper()+`)_(\w+)\b`).FindAllStringSubmatch(f.header+f.code+f.selftest, -1) {
		of := slices.ContainsFunc(b.Settings, func(s verify.Setting) bool {
			return strings.HasPrefix(m[1], strings.ToUpper(s.Name)+"_") || slices.Contains([]string{s.Name, "set_" + s.Name, "get_" + s.Name, s.Name + "_names"}, m[1])
		})
		if !of && !strings.HasPrefix(m[1], "WAY_") && !strings.HasPrefix(m[1], "ONLY_") && !strings.HasPrefix(m[1], f.format) && !slices.Contains(out, m[1]) {
			out = append(out, m[1])
		}
	}
	return out
}

// called is a build with settings more, one for every name, or for what a macro's has in front of its first _ with a
// choice for what stands behind. They change nothing.
func called(b *compiler.Build, names []string) *compiler.Build {
	out, spec := *b, *b.Spec
	out.Spec = &spec
	out.Settings, spec.Settings = slices.Clone(b.Settings), slices.Clone(b.Spec.Settings)
	for _, n := range names {
		setting, choice := strings.ReplaceAll(n, "_", "-"), "second"
		if n == strings.ToUpper(n) {
			var more bool
			if setting, choice, more = strings.Cut(strings.ToLower(n), "_"); !more {
				continue // no spec comes to it
			}
		}
		i := slices.IndexFunc(out.Settings, func(s verify.Setting) bool { return s.Name == setting })
		if i < 0 {
			i = len(out.Settings)
			out.Settings = append(out.Settings, verify.Setting{Name: setting, Choices: []string{"usual"}})
			spec.Settings = append(spec.Settings, language.Setting{Name: setting, Pos: language.Pos{Line: i + 1, Col: 1}, Choices: []*language.Value{{Text: "usual"}}})
		}
		out.Settings[i].Choices = append(slices.Clone(out.Settings[i].Choices), choice)
		spec.Settings[i].Choices = append(slices.Clone(spec.Settings[i].Choices), &language.Value{Text: choice, Pos: language.Pos{Line: i + 1, Col: 1 + len(out.Settings[i].Choices)}})
	}
	return &out
}

// A spec may call settings and choices by any name that the code has for itself: compilers take it without a warning,
// and its self-test finds the simulation. What programs go by is refused, and nothing else.
func TestOwnNamesGiveWay(t *testing.T) {
	public := strings.Fields("garbage init mute muted reset reset_channel run run_frames run_frames_int32 set_rate state way_index SPEC_SHA256 NO_LANES NO_SINGLES SELFTEST_MAIN")
	strict := strings.Fields("-O0 -Wall -Wextra -Wconversion -Wshadow -Werror")
	compilers := map[string][]string{"float32": strings.Fields("g++ -std=c++17 -x c++"), "q31": strings.Fields("clang -std=c99 -pedantic")}
	b := smew(t, "formats: [float32, float64]", "formats: [float32, q31]")
	for _, f := range made(t, b) {
		t.Run(f.format, func(t *testing.T) {
			t.Parallel()
			one := *b
			one.Digital = slices.DeleteFunc(slices.Clone(b.Digital), func(d compiler.Digital) bool { return d.Format.Name != f.format })
			var names []string
			for _, n := range f.ownNames(b) {
				faults := cheader.Names(called(&one, []string{n}))
				if refused := slices.Contains(public, n); (len(faults) > 0) != refused {
					t.Errorf("%s: %v", n, faults)
				}
				if len(faults) == 0 {
					names = append(names, n)
				}
			}
			if len(names) < 100 {
				t.Fatalf("only %v", names)
			}
			dir := t.TempDir()
			f := made(t, called(&one, names))[0]
			f.write(t, dir)
			compiler := compilers[f.format]
			args := slices.Concat(compiler[1:], strict, []string{"-DSMEW_SELFTEST_MAIN", "-o", "main", f.name() + ".c", f.name() + "_selftest.c"})
			if out, err := built(t, dir, compiler[0], args...); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			if got := says(t, filepath.Join(dir, "main")); got != 0 {
				t.Errorf("it says %d", got)
			}
		})
	}
}
