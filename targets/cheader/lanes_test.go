package cheader

import (
	"fmt"
	"strings"
	"testing"

	_ "embed"
)

//go:embed testdata/moved.c
var movedSource string

// With lanes and without the same bits come out, whatever the blocks, while the state is moved to
// where whole vectors begin elsewhere, a channel is reset and another falls out; most samples
// run in lanes, blocks of one among them; and the header states both sizes of the state.
func TestLanesAreNotHeard(t *testing.T) {
	lanes := 0
	moves := map[string]bool{"heron float32": true, "late_2 float32": true}
	for _, s := range shapes {
		files := emit(t, s.build())
		for i, format := range computed() {
			if !moves[s.name+" "+format.Name] {
				continue
			}
			t.Run(s.name+"-"+format.Name, func(t *testing.T) {
				code := map[string][]byte{}
				for _, f := range files[2*i : 2*i+2] {
					code[f.Name] = f.Data
				}
				sizes := statedBytes(files[2*i].Data)
				if len(sizes) != 2 {
					t.Fatalf("the header states the sizes %v", sizes)
				}
				source := fmt.Sprintf("#include \"%s_%s.c\"\n", s.name, format.Name) + strings.NewReplacer("STEM", s.name, "UPPER", strings.ToUpper(s.name),
					"TYPE", format.C.Type.Name, "HZ", fmt.Sprintf("%.0f", s.rates[0])).Replace(movedSource)
				without := "-D" + strings.ToUpper(s.name) + "_NO_LANES"
				var want string
				for _, args := range [][]string{
					{"gcc", "-O1", without, "-DBLOCK=0"}, {"gcc", "-O2", "-DBLOCK=0"}, {"gcc", "-O1", "-mavx", "-DBLOCK=1"},
					{"clang", "-O1", "-mavx", "-fsanitize=undefined", "-fno-sanitize-recover=all", "-DBLOCK=3"},
				} {
					if format.Name != "float32" && args[0] == "clang" {
						continue
					}
					told := strings.Fields(built(t, code, source, args[0], args[1:]...))
					size, hash, in := told[0], told[1], told[2]
					if bare := args[2] == without; bare {
						want = hash
						if size != fmt.Sprint(sizes[0]) {
							t.Errorf("the state takes %s bytes, the header states %v", size, sizes)
						}
					} else {
						if size != fmt.Sprint(sizes[1]) {
							t.Errorf("%v: the state takes %s bytes, the header states %v", args, size, sizes)
						}
						var n int
						_, _ = fmt.Sscan(in, &n)
						lanes += n
						t.Logf("%v: %s samples in lanes", args, in)
					}
					if hash != want {
						t.Errorf("%v: other bits than without lanes", args)
					}
				}
			})
		}
	}
	if lanes < 100000 {
		t.Errorf("%d samples ran in lanes: that is next to none", lanes)
	}
}
