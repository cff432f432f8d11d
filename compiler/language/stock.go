package language

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Stock is what parts of one kind can be bought: the values of series
// (IEC 60063), a list, or the parts of a stock file.
type Stock struct {
	Series    []string  // their union; nil where Values is the stock
	Values    []float64 // as written, without repeats; nil where Series is
	Tolerance float64   // 0.01 for 1 %; of classes, and of a stock file's parts, the widest
	Classes   []float64 // the tolerances of a list, the widest first; see ClassesOf
	// Tempco and Ageing are how far a value moves, plus or minus: relative per kelvin,
	// where a stock file does not say, and over the years of use.
	Tempco, Ageing float64
	From, To       float64 // the range to use, inclusive
	// File is the stock file, Parts what it lists, as readStock has it, and Columns the
	// names of its further columns. What it says is taken by Spec.ReadStocks; until
	// then there are no Values.
	File    Input
	Parts   []Part
	Columns []string
}

// Listed are the parts of a value that the stock file lists, the one that is bought
// first; none where the stock is no file.
func (s *Stock) Listed(value float64) []Part {
	from := sort.Search(len(s.Parts), func(i int) bool { return s.Parts[i].Value >= value })
	to := from
	for to < len(s.Parts) && s.Parts[to].Value == value {
		to++
	}
	return s.Parts[from:to]
}

// Part is the part of a value that is bought, nil where no stock file lists one.
func (s *Stock) Part(value float64) *Part {
	if all := s.Listed(value); len(all) > 0 {
		return &all[0]
	}
	return nil
}

// ToleranceOf is the tolerance (0.01 for 1 %) of the part of a value that is bought, of
// classes the loosest.
func (s *Stock) ToleranceOf(value float64) float64 {
	if p := s.Part(value); p != nil {
		return p.Tolerance
	}
	return s.Tolerance
}

// TempcoOf is how far the part of a value that is bought moves with temperature, plus or
// minus (1/K).
func (s *Stock) TempcoOf(value float64) float64 {
	if p := s.Part(value); p != nil && p.KnowsTempCo {
		return math.Abs(p.TempCo)
	}
	return s.Tempco
}

// stock has two forms: series, or values, listed or in a stock file. The defaults are those of
// series, tolerance, from and to, and an example of a list.
func stock(value Type, defaults [5]string, more ...Key) Type {
	standard, tolerance, from, to, values := defaults[0], defaults[1], defaults[2], defaults[3], defaults[4]
	names := Type{Words: series}
	percent := toleranceKey(tolerance)
	form := func(first Key, from, to Key) Type {
		return Type{Keys: append([]Key{first, percent, tempcoKey(), ageingKey(), from, to}, more...)}
	}
	smallest := Key{Name: "from", Effect: RealisesBoard, Type: value, Default: from, Doc: "Smallest value to use.", Example: from}
	largest := Key{Name: "to", Effect: RealisesBoard, Type: value, Default: to, Doc: "Largest value to use.", Example: to}
	bySeries := form(Key{Name: "series", Effect: RealisesBoard, Type: Type{Either: []Type{names, {List: &names, MinLen: 1}}}, Default: standard,
		Doc: "A series of IEC 60063, or a list of them.", Example: standard}, smallest, largest)
	// A list or a file says by itself what is smallest and largest.
	smallest.Default, largest.Default = "", ""
	byList := form(Key{Name: "stock", Effect: RealisesBoard, Type: Type{Either: []Type{{List: &value, MinLen: 1, MaxLen: maxStock}, {Files: []string{".csv"}}}}, Required: true,
		Doc: "The values themselves, instead of a series, or a file that lists parts: CSV with the columns " + list(ticked(StockColumns()), "and") + ".", Example: values}, smallest, largest)
	return Type{Either: []Type{bySeries, byList}}
}

// stock reads one of the two forms.
func (b *builder) stock(v *Value, name string, d Dim) Stock {
	var s Stock
	if v == nil {
		return s // it had a fault
	}
	b.tolerances(&s, v.Get("tolerance"))
	s.Tempco, s.Ageing = math.Abs(v.Get("tempco").number()), v.Get("ageing").number()
	from, to := v.Get("from"), v.Get("to")
	if slices.ContainsFunc(v.Fields, func(f Field) bool { return f.Key == "stock" }) {
		complete := b.listed(&s, v)
		if s.reaches(v); len(s.Values) > 0 && complete {
			if p := s.reach(name, v, d); p.message != "" {
				b.fault(v.Get("stock").Pos, p.message, p.right)
			}
		}
		return s
	}
	b.series(&s, v.Get("series"))
	s.reaches(v)
	if from != nil && to != nil && s.From >= s.To { // where one is nil, it had a fault
		at := from
		if !at.Given {
			at = to
		}
		b.fault(at.Pos, fmt.Sprintf("the %s are from %s to %s", name, written(s.From, d), written(s.To, d)), "`from` must be below `to`")
	}
	return s
}

// series reads the names of series.
func (b *builder) series(s *Stock, v *Value) {
	names := v.items()
	if names == nil {
		names = []*Value{v}
	}
	for _, n := range names {
		switch {
		case n == nil:
		case slices.Contains(s.Series, n.Word):
			b.fault(n.Pos, fmt.Sprintf("the series %s is given twice", quoted(n.Word)), "keep one of them")
		default:
			s.Series = append(s.Series, n.Word)
		}
	}
}

// listed reads a list of values, or the name of a stock file. It is false where a
// value of the list had a fault.
func (b *builder) listed(s *Stock, v *Value) (complete bool) {
	stock := v.Get("stock")
	if stock != nil && stock.Word != "" {
		s.File = input(stock)
		b.fileAndTolerance(v.Get("tolerance"))
	}
	complete = true
	for _, n := range stock.items() {
		switch {
		case n == nil:
			complete = false
		case slices.Contains(s.Values, n.Number):
			b.fault(n.Pos, fmt.Sprintf("the value %s is given twice", quoted(n.Text)), "keep one of them")
		default:
			s.Values = append(s.Values, n.Number)
		}
	}
	return complete
}

// reaches takes the range to use: that of the values, where the spec gives no other.
func (s *Stock) reaches(v *Value) {
	if len(s.Values) > 0 {
		s.From, s.To = slices.Min(s.Values), slices.Max(s.Values)
	}
	if x := v.Get("from"); x != nil {
		s.From = x.Number
	}
	if x := v.Get("to"); x != nil {
		s.To = x.Number
	}
}

// reach is what is wrong with the range to use: it has no value in it.
func (s *Stock) reach(name string, v *Value, d Dim) problem {
	if slices.ContainsFunc(s.Values, func(x float64) bool { return x >= s.From && x <= s.To }) {
		return problem{}
	}
	p := problem{fmt.Sprintf("no value of the stock of %s is from %s to %s", name, written(s.From, d), written(s.To, d)),
		"widen `from` and `to`, or add values"}
	switch {
	case v.Get("to") == nil:
		p = problem{fmt.Sprintf("no value of the stock of %s is %s or more; the largest is %s", name, written(s.From, d), written(s.To, d)), "lower `from`, or add values"}
	case v.Get("from") == nil:
		p = problem{fmt.Sprintf("no value of the stock of %s is %s or less; the smallest is %s", name, written(s.To, d), written(s.From, d)), "raise `to`, or add values"}
	}
	return p
}

// ReadStocks takes from the stock files, whose text has been read, what can be bought,
// and says what is wrong in them, or with what the spec takes of them.
func (s *Spec) ReadStocks() []Fault {
	if s.Board == nil {
		return nil
	}
	v := s.Tree.Get("board")
	faults := slices.Concat(
		s.readStock(&s.Board.Resistors, "resistors", v.Get("resistors"), stockOhms),
		s.readStock(&s.Board.Capacitors, "capacitors", v.Get("capacitors"), stockFarads))
	if at, p := s.Board.shunt(v); s.Board.Resistors.File.Text != nil && p.message != "" {
		faults = append(faults, s.Fault(Error, at, p.message, p.right))
	}
	return faults
}

// readStock takes one stock file, where there is one.
func (s *Spec) readStock(of *Stock, name string, v *Value, value Type) (faults []Fault) {
	if of.File.Text == nil {
		return nil
	}
	of.Parts, of.Columns, faults = readStock(s.Beside(of.File.Name), of.File.Text, value)
	if len(faults) > 0 {
		return faults
	}
	of.Values, of.Tolerance = nil, 0
	for _, p := range of.Parts {
		if n := len(of.Values); n == 0 || of.Values[n-1] != p.Value {
			of.Values = append(of.Values, p.Value)
			of.Tolerance = max(of.Tolerance, p.Tolerance)
		}
	}
	of.reaches(v)
	if p := of.reach(name, v, value.Dims[0]); p.message != "" {
		return append(faults, s.Fault(Error, of.File.Pos, p.message, p.right))
	}
	if at, p := s.Board.drift(name, of, s.Tree.Get("board")); p.message != "" {
		return append(faults, s.Fault(Error, at, p.message, p.right))
	}
	if n := len(of.Values); n > maxStock {
		return append(faults, s.Fault(Error, of.File.Pos, fmt.Sprintf("the stock file lists %d different values, more than the %d that a board may be chosen from", n, maxStock),
			"list fewer"))
	}
	return nil
}
