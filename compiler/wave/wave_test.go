package wave

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// scipy runs a script of the distribution's Python, whose scipy.io.wavfile is the judge.
func scipy(t *testing.T, script string, args ...string) string {
	t.Helper()
	out, err := exec.Command("/usr/bin/python3", append([]string{"-c", script}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("python3 with scipy (Debian packages python3 and python3-scipy): %v\n%s", err, out)
	}
	return string(out)
}

// samples are two channels that every kind of word keeps exactly, both ends of the scale
// among them.
func samples(w Words) [][]float64 {
	full := 1.0
	if !w.Float {
		full = 1 - math.Ldexp(1, 1-w.Bits)
	}
	return [][]float64{{0, -1, full, 0.5, -0.25, 3.0 / 64}, {1.0 / 64, full, -1, -0.5, 0, -1.0 / 64}}
}

var kinds = []Words{{16, false}, {24, false}, {32, false}, {32, true}, {64, true}}

// What the writer writes, scipy reads, value for value; scipy reads 24 bits in the upper
// part of 32.
func TestScipyReadsWhatWeWrite(t *testing.T) {
	dir := t.TempDir()
	for _, w := range kinds {
		name := filepath.Join(dir, fmt.Sprint(w.Bits, w.Float, ".wav"))
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		out, err := NewWriter(f, Shape{RateHz: 44100, Channels: 2, Words: w}, "a comment!")
		if err != nil {
			t.Fatal(err)
		}
		x := samples(w)
		half := [][]float64{x[0][:3], x[1][:3]}
		rest := [][]float64{x[0][3:], x[1][3:]}
		if err := errors.Join(out.Write(half), out.Write(rest), out.Close(), f.Close()); err != nil {
			t.Fatal(err)
		}
		got := scipy(t, `
import sys, warnings, scipy.io.wavfile as w
warnings.simplefilter("error")
rate, x = w.read(sys.argv[1])
full = 1 if x.dtype.kind == "f" else 2.0 ** (8 * x.dtype.itemsize - 1)
print(rate, x.dtype, *[repr(float(v) / full) for v in x.T.flatten()])`, name)
		kind := map[Words]string{{16, false}: "int16", {24, false}: "int32", {32, false}: "int32", {32, true}: "float32", {64, true}: "float64"}[w]
		want := "44100 " + kind
		for _, v := range append(x[0], x[1]...) {
			text := strconv.FormatFloat(v, 'g', -1, 64)
			if !strings.ContainsAny(text, ".e") {
				text += ".0"
			}
			want += " " + strings.Replace(text, "-0.0 ", "0.0 ", 1)
		}
		if strings.TrimSpace(got) != want {
			t.Errorf("%v: scipy reads %s\nwant %s", w, got, want)
		}
	}
}

// What scipy writes, the reader reads, of every kind of word that scipy writes.
func TestWeReadWhatScipyWrites(t *testing.T) {
	dir := t.TempDir()
	scipy(t, `
import sys, numpy as np, scipy.io.wavfile as w
x = np.array([[0, -1, 0.5, 0.25], [0.125, 0.75, -0.5, -0.0625]]).T
for kind, full in ("uint8", 128), ("int16", 32768), ("int32", 2147483648), ("float32", 1), ("float64", 1):
    y = x * full + (128 if kind == "uint8" else 0)
    w.write(sys.argv[1] + "/" + kind + ".wav", 96000, y.astype(kind))`, dir)
	for kind, w := range map[string]Words{"uint8": {8, false}, "int16": {16, false}, "int32": {32, false}, "float32": {32, true}, "float64": {64, true}} {
		data, err := os.ReadFile(filepath.Join(dir, kind+".wav"))
		if err != nil {
			t.Fatal(err)
		}
		r, err := NewReader(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
		if r.Shape != (Shape{96000, 2, w, 4}) {
			t.Errorf("%s: %+v", kind, r.Shape)
		}
		if got := fmt.Sprint(all(t, r, 3)); got != "[[0 -1 0.5 0.25] [0.125 0.75 -0.5 -0.0625]]" {
			t.Errorf("%s: %s", kind, got)
		}
	}
}

// all are the samples up to the end, read so many frames at a time.
func all(t *testing.T, r *Reader, n int) [][]float64 {
	t.Helper()
	out, block := make([][]float64, r.Channels), make([][]float64, r.Channels)
	for c := range block {
		block[c] = make([]float64, n)
	}
	for {
		got, err := r.Read(block)
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		for c := range out {
			out[c] = append(out[c], block[c][:got]...)
		}
	}
}

// memory is a file in memory.
type memory struct {
	data []byte
	at   int
}

func (m *memory) Write(b []byte) (int, error) {
	m.data = append(m.data[:m.at], append(append([]byte{}, b...), m.data[min(m.at+len(b), len(m.data)):]...)...)
	m.at += len(b)
	return len(b), nil
}

func (m *memory) Seek(to int64, whence int) (int64, error) {
	if whence != io.SeekStart {
		return 0, errors.New("only from the start")
	}
	m.at = int(to)
	return to, nil
}

// written is a small file.
func written(t testing.TB, w Words, channels int, frames int) []byte {
	t.Helper()
	m := &memory{}
	out, err := NewWriter(m, Shape{RateHz: 48000, Channels: channels, Words: w}, "what this is")
	if err != nil {
		t.Fatal(err)
	}
	x := make([][]float64, channels)
	for c := range x {
		for i := range frames {
			x[c] = append(x[c], float64(i+c)/64)
		}
	}
	if err := errors.Join(out.Write(x), out.Close()); err != nil {
		t.Fatal(err)
	}
	return m.data
}

// A file reads back as it was written; chunks end at even places whatever is in them,
// and integers stop at full scale.
func TestRoundTrip(t *testing.T) {
	for _, w := range append(kinds, Words{8, false}) {
		for _, channels := range []int{1, 2, 5} {
			data := written(t, w, channels, 3)
			if len(data)%2 == 1 || int(binary.LittleEndian.Uint32(data[4:])) != len(data)-8 {
				t.Errorf("%v: %d bytes, the head says %d", w, len(data), binary.LittleEndian.Uint32(data[4:]))
			}
			r, err := NewReader(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			if r.Comment != "what this is" || r.Shape != (Shape{48000, channels, w, 3}) {
				t.Errorf("%+v", r)
			}
			for c, got := range all(t, r, 2) {
				for i, x := range got {
					if x != float64(i+c)/64 {
						t.Errorf("%v: channel %d of %d, frame %d: %g", w, c, channels, i, x)
					}
				}
			}
		}
	}
	if b := (Words{16, false}).append(nil, 1.5); binary.LittleEndian.Uint16(b) != 0x7FFF {
		t.Errorf("beyond full scale: %x", b)
	}
}

// What is no such file, or damaged, is refused with the reason.
func TestRefused(t *testing.T) {
	good := written(t, Words{16, false}, 2, 4)
	edit := func(at int, b ...byte) []byte {
		data := bytes.Clone(good)
		copy(data[at:], b)
		return data
	}
	samples := bytes.Index(good, []byte("data"))
	for _, c := range []struct {
		name, want string
		data       []byte
	}{
		{"empty", "no RIFF file", nil},
		{"text", "no RIFF file", []byte("bandwright: 1\nname: heron\n")},
		{"another form", "no RIFF file", edit(8, 'A', 'V', 'I', ' ')},
		{"big-endian", "RIFX", edit(3, 'X')},
		{"more than 4 GiB", "RF64", edit(0, 'R', 'F', '6', '4')},
		{"coded", "coded (tag 17)", edit(20, 17)},
		{"no channel", "0 channels", edit(22, 0, 0)},
		{"many channels", "65535 channels", edit(22, 0xFF, 0xFF)},
		{"no rate", "0 Hz", edit(24, 0, 0, 0, 0)},
		{"odd words", "12 bits", edit(34, 12)},
		{"odd frames", "5 bytes a frame, where 2 channels of 16 bits have 4", edit(32, 5)},
		{"short form", `"fmt" is too short`, edit(16, 2, 0, 0, 0)},
		{"no form", `no chunk "fmt"`, append([]byte("RIFF0000WAVE"), good[samples:]...)},
		{"within a frame", "end within a frame", edit(samples+4, 15)},
		{"no samples", "ends in front of its samples", good[:samples]},
		{"cut in its head", `ends in its chunk "LIST"`, good[:samples-3]},
		{"endless chunk", `ends in its chunk "fmt"`, edit(16, 0xF0, 0xFF, 0xFF, 0xFF)},
		{"nothing recorded", "it has no samples", edit(samples+4, 0, 0, 0, 0)[:samples+8]},
		{"nothing piped", "it has no samples", edit(samples+4, 0xFF, 0xFF, 0xFF, 0xFF)[:samples+8]},
		{"no samples before another chunk", "it has no samples", append(edit(samples+4, 0, 0, 0, 0)[:samples+8], "LIST\x04\x00\x00\x00INFO"...)},
		{"cut", "ends after 2 of 4 frames", good[:samples+8+11]},
	} {
		r, err := NewReader(bytes.NewReader(c.data))
		if err == nil {
			_, err = r.Read([][]float64{make([]float64, 9), make([]float64, 9)})
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %s", c.name, err, c.want)
		}
	}
}

// What was written to a pipe, whose head does not know the length, goes on to its end; and
// the extended head is read.
func TestStreamed(t *testing.T) {
	good := written(t, Words{24, false}, 1, 5)
	at := bytes.Index(good, []byte("data")) + 4
	copy(good[at:], []byte{0xFF, 0xFF, 0xFF, 0xFF})
	form := append(binary.LittleEndian.AppendUint16(nil, tagExtensible), good[22:36]...)
	form = append(form, 22, 0, 24, 0, 4, 0, 0, 0, tagInteger, 0)
	form = append(form, make([]byte, 14)...)
	data := append([]byte("RIFF\xFF\xFF\xFF\xFFWAVEfmt "), binary.LittleEndian.AppendUint32(nil, uint32(len(form)))...)
	data = append(append(data, form...), good[36:len(good)-1]...) // without the byte that fills up
	r, err := NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if r.Frames != -1 || r.Words != (Words{24, false}) {
		t.Errorf("%+v", r.Shape)
	}
	if got := all(t, r, 4); len(got[0]) != 5 || got[0][4] != 4.0/64 {
		t.Errorf("%v", got)
	}
}

// A recorder that lost its power leaves the sizes with which it began, in the head of the file as in that of the
// samples: they go on to the end of the file, even where the first of them look like the head of a chunk. How
// scipy reads the same file says what they are.
func TestStoppedRecorder(t *testing.T) {
	good := written(t, Words{16, false}, 2, 40)
	at := bytes.Index(good, []byte("data"))
	copy(good[at+8:], "LIST\x04\x00\x00\x00")
	name := filepath.Join(t.TempDir(), "whole.wav")
	if err := os.WriteFile(name, good, 0o666); err != nil {
		t.Fatal(err)
	}
	want := scipy(t, `
import sys, scipy.io.wavfile as w
print(*(v / 32768 for v in w.read(sys.argv[1])[1].T.flatten()))`, name)
	for file, size := range map[string]uint32{"none": 0, "piped": 0xFFFFFFFF, "an empty file's": uint32(at)} {
		data := bytes.Clone(good)
		binary.LittleEndian.PutUint32(data[4:], size)
		binary.LittleEndian.PutUint32(data[at+4:], 0)
		r, err := NewReader(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		got := all(t, r, 7)
		text := ""
		for _, v := range append(got[0], got[1]...) {
			number := strconv.FormatFloat(v, 'f', -1, 64)
			if !strings.Contains(number, ".") {
				number += ".0"
			}
			text += number + " "
		}
		if r.Frames != -1 || strings.TrimSpace(text) != strings.TrimSpace(want) {
			t.Errorf("%s: %d frames, %s; scipy reads %s", file, r.Frames, text, want)
		}
	}
}

// A file stops at what its head can say.
func TestTooLong(t *testing.T) {
	w, err := NewWriter(&memory{}, Shape{RateHz: 48000, Channels: 1, Words: Words{32, true}}, "")
	if err != nil {
		t.Fatal(err)
	}
	w.bytes = math.MaxUint32 - 100
	if err := w.Write([][]float64{make([]float64, 30)}); !errors.Is(err, ErrTooLong) {
		t.Errorf("%v", err)
	}
}

func FuzzReader(f *testing.F) {
	f.Add(written(f, Words{16, false}, 2, 4))
	f.Add(written(f, Words{32, true}, 1, 4))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := NewReader(bytes.NewReader(data))
		if err != nil {
			return
		}
		block := make([][]float64, r.Channels)
		for c := range block {
			block[c] = make([]float64, 16)
		}
		for n, total := 1, 0; err == nil; total += n {
			if n, err = r.Read(block); total > len(data) {
				t.Fatal("more frames than bytes")
			}
		}
	})
}
