package language

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// A stock file is read as it stands: comments and empty lines say nothing, columns come
// in any order, and those without a meaning are carried through.
func TestStockFile(t *testing.T) {
	text := "\ufeff# Invented.\r\n" +
		"maker,value,part,tolerance,tempco,voltage,dielectric,price,order number\r\n" +
		"A, 0.1 uF ,F-10-5-1,2 %,-200 ppm/K,63 V,polypropylene,0.41,\"10,5\"\r\n\r\n" +
		"# F-15-5-1 is no longer made\r\n" +
		",4700 pF,F-47-3-1,0.5 %,,,,,\r\n"
	parts, columns, faults := readStock("film.csv", []byte(text), stockFarads)
	if faults != nil || !slices.Equal(columns, []string{"maker", "order number"}) {
		t.Fatal(faults, columns)
	}
	want := []Part{
		{Name: "F-47-3-1", Value: 4.7e-9, Tolerance: 0.005, More: []string{"", ""}, price: math.Inf(1)},
		{Name: "F-10-5-1", Value: 100e-9, Tolerance: 0.02, TempCo: -200e-6, KnowsTempCo: true, VoltageV: 63, Dielectric: "polypropylene", Price: "0.41",
			More: []string{"A", "10,5"}, price: 0.41},
	}
	if fmt.Sprintf("%+v", parts) != fmt.Sprintf("%+v", want) {
		t.Errorf("\n%+v\n%+v", parts, want)
	}
}

// Of equal values the cheaper is bought, then the tighter, then the first; one without
// a price is bought where no other is there.
func TestStockOrder(t *testing.T) {
	const dear, cheap, tight, none = "D,1 kohm,1 %,0.20\n", "C,1 kohm,5 %,0.10\n", "T,1000 ohm,1 %,0.1\n", "N,1 kohm,0.1 %,\n"
	for _, c := range []struct{ rows, order string }{
		{dear + cheap, "CD"},
		{cheap + dear + tight, "TCD"},
		{none + dear, "DN"},
		{none, "N"},
		{cheap + "B,1 kohm,5 %,0.10\n" + none, "CBN"},
		{"X,1.1 kohm,1 %,0.01\n" + dear + none, "DNX"},
	} {
		parts, _, faults := readStock("x.csv", []byte("part,value,tolerance,price\n"+c.rows), stockOhms)
		order := ""
		for _, p := range parts {
			order += p.Name
		}
		if faults != nil || order != c.order {
			t.Errorf("%q: %s instead of %s: %v", c.rows, order, c.order, faults)
		}
	}
}

// stocked is a spec whose stock files hold these texts.
func stocked(t *testing.T, block, resistors, capacitors string) (*Spec, []Fault) {
	t.Helper()
	s, faults := board(t, "board: "+block)
	if s == nil {
		t.Fatal(faults)
	}
	for _, in := range s.Inputs() {
		in.Text = []byte(map[string]string{"parts/r.csv": resistors, "c.csv": capacitors}[in.Name])
	}
	return s, append(faults, s.ReadStocks()...)
}

// What a stock file lists is what there is: values, range and tolerances are its own.
func TestStockOfFile(t *testing.T) {
	const resistors = "part,value,tolerance\nA,100 ohm,1 %\nB,1 kohm,1 %\nC,2.2 kohm,0.1 %\nD,1 kohm,5 %\nE,10 kohm,2 %\n"
	_, faults := stocked(t, "{resistors: {stock: parts/r.csv, to: 4 kohm, shunt-from: 150 ohm}, capacitors: {stock: c.csv}}", resistors, "part,value,tolerance\nA,1 nF,2 %\n")
	if len(faults) != 1 || !strings.Contains(faults[0].Error(), "`shunt-from` of `150 ohm` is above the smallest resistor, 100 ohm") {
		t.Fatal(faults)
	}
	s, faults := stocked(t, "{resistors: {stock: parts/r.csv, from: 1 kohm, to: 4 kohm, shunt-from: 150 ohm}, capacitors: {stock: c.csv}}", resistors, "part,value,tolerance\nA,1 nF,2 %\n")
	r, c := s.Board.Resistors, s.Board.Capacitors
	if faults != nil || !slices.Equal(r.Values, []float64{100, 1000, 2200, 10000}) || r.From != 1000 || r.To != 4000 || s.Board.ShuntOhm != 150 {
		t.Error(faults, r, s.Board.ShuntOhm)
	}
	if r.Tolerance != 0.02 || r.ToleranceOf(1000) != 0.01 || r.ToleranceOf(2200) != 0.001 || r.ToleranceOf(1234) != 0.02 {
		t.Error(r.Tolerance, r.ToleranceOf(1000), r.ToleranceOf(2200), r.ToleranceOf(1234))
	}
	if p := r.Part(1000); p == nil || p.Name != "B" || len(r.Listed(1000)) != 2 || r.Part(1001) != nil || r.Part(1e9) != nil {
		t.Error(p, r.Listed(1000), r.Part(1001))
	}
	if c.From != 1e-9 || c.To != 1e-9 || c.Part(1e-9).Name != "A" {
		t.Error(c)
	}
	if names := s.Inputs(); len(names) != 2 || names[0].Name != "parts/r.csv" || !strings.HasPrefix(lineOf(s.Source, 5)[names[1].Pos.Col-1:], "c.csv}") {
		t.Errorf("%+v", names)
	}
}

// A tolerance beside a stock file means nothing, which is said.
func TestStockTolerance(t *testing.T) {
	s, faults := board(t, "board: {capacitors: {stock: c.csv, tolerance: 1 %}}")
	if s == nil || len(faults) != 1 || faults[0].Severity != Warning || !strings.Contains(faults[0].Message, "`tolerance` has no effect") {
		t.Error(faults)
	}
}

// A file of too many columns, on as many lines, is refused at
// once.
func TestStockColumns(t *testing.T) {
	_, _, faults := readStock("x.csv", []byte(strings.Repeat("\"a\n\",", 100)+"b\n"), stockOhms)
	if len(faults) != 1 || !strings.Contains(faults[0].Message, "101 columns") {
		t.Error(faults)
	}
}

// So many different values are too many to choose from.
func TestStockSize(t *testing.T) {
	rows := "part,value,tolerance\n"
	for i := range maxStock {
		rows += fmt.Sprintf("A%d,%d ohm,1 %%\n", i, i+1)
	}
	if _, faults := stocked(t, "{resistors: {stock: parts/r.csv}}", rows, ""); faults != nil {
		t.Error(faults)
	}
	_, faults := stocked(t, "{resistors: {stock: parts/r.csv}}", rows+"B,1 Mohm,1 %\n", "")
	if len(faults) != 1 || !strings.Contains(faults[0].Message, "lists 1001 different values") {
		t.Error(faults)
	}
}

// FuzzStock reads any text as a stock file: it comes out as sound parts in order, or as
// faults with places in it.
func FuzzStock(f *testing.F) {
	for _, s := range []string{
		"", "part", "part,value,tolerance\nA,1 nF,1 %\n", "\ufeff# x\r\npart,value,tolerance,price,shelf\r\nA,1 nF,1 %,0.1,\"a \"\"b\"\", c\"\r\n",
		"part,value,tolerance\nA,\"1 nF\n\",1 %\n", "part,value,tolerance\nA,1 nF,1 %,\n\"", "value;part\n1;2", "Part,valu,tolerance,,tolerance\n",
		"part,value,tolerance,tempco,voltage,dielectric\nA,10 uF,10 %,-200 ppm/K,6.3 V,X5R\nA,1e3 nF,1 %,0 ppm/K,,\n",
		"part,value,tolerance\nA,1\u00a0\u00b5F,1 %\nB,1 \u00b5F, 2 %\n", "part,value,tolerance\n\u00e4,4,7 nF,1 %\n", "\x00\r", "# only\n#", "part,value,tolerance\n \nA,1 nF,1 %",
	} {
		f.Add([]byte(s), false)
		f.Add([]byte(s), true)
	}
	f.Fuzz(func(t *testing.T, text []byte, resistors bool) {
		if len(text) > 1<<16 {
			return
		}
		value := stockFarads
		if resistors {
			value = stockOhms
		}
		parts, columns, faults := readStock("fuzz.csv", text, value)
		lines := strings.Split(strings.TrimPrefix(string(text), "\ufeff"), "\n")
		for _, f := range faults {
			if f.Pos.Line < 1 || f.Pos.Line > len(lines) || f.Pos.Col < 1 || f.Pos.Col > len([]rune(lines[f.Pos.Line-1]))+1 || f.Message == "" || f.Right == "" || f.File != "fuzz.csv" {
				t.Errorf("%+v", f)
			}
		}
		if len(faults) > maxFaults+1 || len(faults) == 0 && len(parts) == 0 {
			t.Errorf("%d faults, %d parts", len(faults), len(parts))
		}
		names := map[string]bool{}
		for i, p := range parts {
			low, high := value.limits()
			sound := p.Value >= low && p.Value <= high && p.Tolerance >= 1e-4 && p.Tolerance <= 0.2 && math.Abs(p.TempCo) <= 0.1 && p.VoltageV >= 0 && p.price >= 0
			if !sound || len(faults) == 0 && len(p.More) != len(columns) || p.Name == "" || names[p.Name] {
				t.Errorf("%+v", p)
			}
			if names[p.Name] = true; i > 0 && parts[i-1].Value > p.Value {
				t.Errorf("%v before %v", parts[i-1].Value, p.Value)
			}
		}
	})
}
