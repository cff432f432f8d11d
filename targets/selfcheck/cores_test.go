package selfcheck

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// core is a machine: how a self-test with a main of its own is compiled for it, and
// started there.
type core struct {
	name, compiler string
	flags, start   []string
	bare           bool // needs the start-up of testdata
}

var (
	strict = strings.Fields("-std=c99 -pedantic -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion -Wcast-align " +
		"-Wcast-qual -Wundef -Wfloat-equal -Wmissing-prototypes -Wmissing-declarations -Werror")
	strictCXX = strings.Fields("-std=c++17 -Wall -Wextra -Wconversion -Wshadow -Werror -x c++")
	bare      = strings.Fields("-std=c99 -Wall -Wextra -Werror -mthumb -mfloat-abi=hard -nostartfiles --specs=nosys.specs -T cortex.ld -Wl,--gc-sections start.c")
	emulated  = strings.Fields("qemu-system-arm -nographic -semihosting -icount shift=0")
)

// of are words, one behind the other.
func of(words ...[]string) []string {
	var out []string
	for _, w := range words {
		out = append(out, w...)
	}
	return out
}

// The cores: Arm's boards with each, as their manuals (AN386, AN500, AN505) have code and memory.
var (
	native  = core{name: "gcc", compiler: "gcc", flags: strict}
	clang   = core{name: "clang", compiler: "clang", flags: strict}
	gxx     = core{name: "g++", compiler: "g++", flags: strictCXX}
	clangxx = core{name: "clang++", compiler: "clang++", flags: strictCXX}
	m4      = core{"Cortex-M4", "arm-none-eabi-gcc",
		of(bare, strings.Fields("-mcpu=cortex-m4 -mfpu=fpv4-sp-d16 -Wl,--defsym=CODE=0,--defsym=MEMORY=0x20000000")),
		of(emulated, strings.Fields("-M mps2-an386 -cpu cortex-m4 -kernel")), true}
	m7 = core{"Cortex-M7", "arm-none-eabi-gcc",
		of(bare, strings.Fields("-mcpu=cortex-m7 -mfpu=fpv5-d16 -Wl,--defsym=CODE=0,--defsym=MEMORY=0x20000000")),
		of(emulated, strings.Fields("-M mps2-an500 -cpu cortex-m7 -kernel")), true}
	m33 = core{"Cortex-M33", "arm-none-eabi-gcc",
		of(bare, strings.Fields("-mcpu=cortex-m33 -mfpu=fpv5-sp-d16 -Wl,--defsym=CODE=0x10000000,--defsym=MEMORY=0x38000000")),
		of(emulated, strings.Fields("-M mps2-an505 -cpu cortex-m33 -kernel")), true}
	arm32 = core{"armhf", "arm-linux-gnueabihf-gcc", of(strict, []string{"-static"}), []string{"qemu-arm"}, false}
	ppc   = core{"powerpc", "powerpc-linux-gnu-gcc", of(strict, []string{"-static"}), []string{"qemu-ppc"}, false} // big-endian
)

// command compiles a self-test in a folder of its own, and is what starts it.
func (c core) command(t *testing.T, f firmware, flags ...string) []string {
	t.Helper()
	dir := t.TempDir()
	f.write(t, dir)
	if c.bare {
		put(t, dir, "start.c", read(t, filepath.Join("testdata", "start.c")))
		put(t, dir, "cortex.ld", read(t, filepath.Join("testdata", "cortex.ld")))
	}
	args := of([]string{"-D" + f.upper() + "_SELFTEST_MAIN"}, c.flags, flags, []string{f.name() + ".c", f.name() + "_selftest.c", "-o", "test"})
	if out, err := built(t, dir, c.compiler, args...); err != nil {
		t.Fatalf("%s: %v\n%s", c.name, err, out)
	}
	if len(c.start) > 0 {
		if _, err := exec.LookPath(c.start[0]); err != nil {
			t.Fatalf("no %s: .ci/tools installs it", c.start[0])
		}
	}
	return append(c.start[:len(c.start):len(c.start)], filepath.Join(dir, "test"))
}

// The self-test of the smallest spec that has everything says 0 on every machine, by
// every compiler at every level, without a warning; those of the other number formats on one core of each kind.
func TestEveryCoreComputesTheSimulation(t *testing.T) {
	files := map[string]firmware{}
	for _, f := range made(t, smew(t, "formats: [float32, float64]", "formats: [float32, float64, q31]")) {
		files[f.format] = f
	}
	levels := strings.Split("-O0,-O1,-O2,-O3,-Os,-O2 -flto", ",")
	for _, row := range []struct {
		core    core
		levels  []string
		formats string
	}{
		{native, levels, "float32"},
		{clang, levels, "float32"},
		{gxx, []string{"-O2"}, "float32 float64 q31"},
		{clangxx, []string{"-O2"}, "float32 float64 q31"},
		{native, []string{"-O0 -g -fsanitize=address,undefined -fno-sanitize-recover=all"}, "float32 float64 q31"},
		{native, []string{"-O2 -DSMEW_NO_LANES", "-O2 -DSMEW_ONLY_96000 -DSMEW_NO_SINGLES", "-O3 -ffp-contract=fast -march=x86-64-v3"}, "float32"},
		{m4, []string{"-O0", "-O2", "-O3", "-Os", "-O2 -flto"}, "float32"},
		{m4, []string{"-O2"}, "q31"},
		{m7, []string{"-O2", "-Os"}, "float32"},
		{m7, []string{"-O2"}, "float64"},
		{m33, []string{"-O2", "-O3 -DSMEW_NO_SINGLES", "-Os"}, "float32"},
		{m33, []string{"-O2 -DSMEW_NO_SINGLES"}, "q31"},
		{arm32, []string{"-O0", "-O2", "-Os"}, "float32"},
		{arm32, []string{"-O3"}, "float64 q31"},
		{ppc, []string{"-O0", "-O2", "-O3"}, "float32"},
		{ppc, []string{"-Os"}, "float64 q31"},
	} {
		for _, level := range row.levels {
			for _, format := range strings.Fields(row.formats) {
				t.Run(row.core.name+" "+level+" "+format, func(t *testing.T) {
					t.Parallel()
					if strings.Contains(level, "-v3") && !fuses() {
						level = strings.Replace(level, "-march=x86-64-v3", "", 1)
					}
					if got := says(t, row.core.command(t, files[format], strings.Fields(level)...)...); got != 0 {
						t.Errorf("it says %d", got)
					}
				})
			}
		}
	}
}

// What a section of few forms remembers may end in bytes that are nothing: single samples go past them as blocks do, and
// the header counts them. Forms of more sections than one word of the tables has room for are in several.
func TestFewFormsOnACore(t *testing.T) {
	text := `bandwright: 1
name: smew
ways:
  only:
    filters: [{peak: {at: 30 Hz, q: 2, gain: 1 dB}}`
	for hz := 31; hz < 65; hz++ {
		text += fmt.Sprintf(", {peak: {at: %d Hz, q: 2, gain: %d dB}}", hz, 1-hz%2*2)
	}
	text += `]
digital: {rates: [96 kHz], formats: [q31], method: bilinear, headroom: 6 dB, channels: 2}
`
	f := made(t, compiled(t, text))[0]
	if !strings.Contains(f.code, " forms[") {
		t.Fatal("a word has room for all forms")
	}
	if strings.Contains(f.header, "y1") || strings.Contains(f.header, "x2") {
		t.Fatal("there are other sections than those of the delta forms")
	}
	told := regexp.MustCompile(`state takes (\d+) bytes`).FindStringSubmatch(strings.ReplaceAll(f.header, "\n * ", " "))
	if told == nil {
		t.Fatal("the header does not say what the state takes")
	}
	f.selftest += "typedef char smew_told[sizeof(smew_state) == " + told[1] + " ? 1 : -1];\n"
	for _, level := range []string{"-O2", "-Os"} {
		if got := says(t, m4.command(t, f, level)...); got != 0 {
			t.Errorf("%s: it says %d", level, got)
		}
	}
}

// fuses reports whether this processor has fused products and sums.
func fuses() bool {
	out, err := exec.Command("grep", "-c", "-w", "fma", "/proc/cpuinfo").Output()
	return err == nil && strings.TrimSpace(string(out)) != "0"
}

// The self-tests that ship say 0 on this machine.
func TestWhatShipsSaysNothingIsWrong(t *testing.T) {
	for _, f := range shipped(t) {
		t.Run(f.name(), func(t *testing.T) {
			t.Parallel()
			if got := says(t, native.command(t, f, "-O1")...); got != 0 {
				t.Errorf("it says %d", got)
			}
		})
	}
}

// most is how many instructions a self-test may take on a Cortex-M4.
const most = 10_000_000

var count = regexp.MustCompile(`^(\d+)\s*$`)

// Instructions of the largest self-tests, counted by the emulator's clock.
func TestItIsShort(t *testing.T) {
	for _, f := range shipped(t) {
		if row := f.row(t); row.C.Type.Bytes > 4 {
			continue // not for this core
		}
		switch f.stem {
		case "bittern", "heron", "wagtail", "dabchick", "pipit":
		default:
			continue
		}
		t.Run(f.name(), func(t *testing.T) {
			t.Parallel()
			command := m4.command(t, f, "-O2", "-DCOUNT")
			out, err := exec.Command(command[0], command[1:]...).CombinedOutput()
			m := count.FindSubmatch(out)
			if err != nil || m == nil {
				t.Fatalf("%v\n%s", err, out)
			}
			n, _ := strconv.Atoi(string(m[1]))
			t.Logf("%d instructions", n)
			if n > most || n < most/100 {
				t.Errorf("%d instructions", n)
			}
		})
	}
}

// Teeth: without the guard against fused products and sums a core that has them
// computes otherwise, and the self-test says 1; with a rate that only the code leaves
// out, or the filters of another spec, 2.
func TestItSaysOneAndTwo(t *testing.T) {
	f := made(t, smew(t))[0]
	if f.format != "float64" {
		t.Fatalf("the first format is %s", f.format)
	}
	f = made(t, smew(t))[1]
	bare := f
	bare.code = regexp.MustCompile(`(?m)^#pragma GCC optimize\(.*\)$`).ReplaceAllString(f.code, "")
	if bare.code == f.code {
		t.Fatal("there is no guard")
	}
	if got := says(t, m4.command(t, bare, "-O2", "-ffp-contract=fast")...); got != 1 {
		t.Errorf("fused products and sums: it says %d", got)
	}
	less := f
	less.code = "#define SMEW_ONLY_96000\n" + f.code
	if got := says(t, native.command(t, less, "-O1")...); got != 2 {
		t.Errorf("a rate is not there: it says %d", got)
	}
	other := made(t, smew(t, "at: 400 Hz", "at: 410 Hz"))[1]
	other.header, other.selftest = f.header, f.selftest
	if got := says(t, native.command(t, other, "-O1")...); got != 2 {
		t.Errorf("other filters: it says %d", got)
	}
}

// What compilers may do with floating point where they are let, sums in another order among it, is near:
// no tolerance is below the round-off of other arithmetic. In fixed point nothing is left to them.
func TestOtherRoundOffIsNear(t *testing.T) {
	guards := regexp.MustCompile(`(?m)^#pragma (GCC optimize\(.*\)|STDC FP_CONTRACT.*|clang fp.*)$|^ *# *error .*$`)
	for _, f := range append(shipped(t), made(t, smew(t))...) {
		t.Run(f.name(), func(t *testing.T) {
			t.Parallel()
			free, want := f, 1
			free.header, free.code = guards.ReplaceAllString(f.header, ""), guards.ReplaceAllString(f.code, "")
			if f.row(t).C.Size.Name == "" {
				want = 0
			}
			level := "-O2 -ffast-math -fno-finite-math-only -ffp-contract=fast -w -D" + f.upper() + "_NO_LANES"
			if fuses() {
				level += " -mfma"
			}
			if got := says(t, native.command(t, free, strings.Fields(level)...)...); got != want {
				t.Errorf("it says %d", got)
			}
		})
	}
}

// exceptions is a program that fails where the self-test does, or leaves a floating-point
// exception behind other than that results were rounded (C99 7.6).
const exceptions = `
#include <fenv.h>

int main(void)
{
    const int said = smew_float32_selftest();

    return said != 0 ? said : fetestexcept(FE_INVALID | FE_DIVBYZERO | FE_OVERFLOW | FE_UNDERFLOW) != 0 ? 9 : 0;
}
`

func TestNoFloatingPointExceptions(t *testing.T) {
	f := made(t, smew(t))[1]
	f.selftest += exceptions
	for _, c := range []core{native, clang} {
		c.flags = append(c.flags[:len(c.flags):len(c.flags)], "-USMEW_SELFTEST_MAIN", "-Wl,--no-as-needed", "-lm")
		if got := says(t, c.command(t, f, "-O2")...); got != 0 {
			t.Errorf("%s: %d", c.name, got)
		}
	}
}
