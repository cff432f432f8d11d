package language

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// Part is a row of a stock file: something that can be bought.
type Part struct {
	Name      string  // what it is ordered by
	Value     float64 // ohm or farad
	Tolerance float64 // 0.01 for 1 %
	// TempCo (1/K) is how far the value moves with temperature, KnowsTempCo whether
	// the file says so.
	TempCo      float64
	KnowsTempCo bool
	VoltageV    float64  // what it is rated for; 0 where that is not known
	Dielectric  string   // as written; "" where it is not known
	Price       string   // as written; "" where it is not known
	More        []string // the further columns as written, in the order of Stock.Columns

	price float64 // +Inf where it is not known
}

// column is one that a stock file may have; take puts its value into a part.
type column struct {
	Key
	take func(p *Part, v *Value)
}

// stockColumns are the columns that mean something, for parts whose values are of a
// type. Any other is carried through to the parts list.
func stockColumns(value Type) []column {
	text, example := Type{Text: true}, "10 kohm"
	if value.Dims[0] == Capacitance {
		example = "4.7 nF"
	}
	return []column{
		{Key{Name: "part", Type: text, Required: true, Example: "A-047-1"}, func(p *Part, v *Value) { p.Name = v.Word }},
		{Key{Name: "value", Type: value, Required: true, Example: example}, func(p *Part, v *Value) { p.Value = v.Number }},
		{Key{Name: "tolerance", Type: partTolerance, Required: true, Example: "1 %"}, func(p *Part, v *Value) { p.Tolerance = v.Number }},
		{Key{Name: "tempco", Type: within(TemperatureCoefficient, -0.1, 0.1), Example: "50 ppm/K"}, func(p *Part, v *Value) { p.TempCo, p.KnowsTempCo = v.Number, true }},
		{Key{Name: "voltage", Type: within(Voltage, 0.1, 1e5), Example: "63 V"}, func(p *Part, v *Value) { p.VoltageV = v.Number }},
		{Key{Name: "dielectric", Type: text, Example: "C0G"}, func(p *Part, v *Value) { p.Dielectric = v.Word }},
		{Key{Name: "price", Type: Type{Number: true, Max: 1e9}, Example: "0.12"}, func(p *Part, v *Value) { p.Price, p.price = v.Text, v.Number }},
	}
}

// StockColumns are the names of the columns of a stock file that mean something.
func StockColumns() []string {
	var out []string
	for _, c := range stockColumns(stockOhms) {
		out = append(out, c.Name)
	}
	return out
}

// maxColumns is how many columns a stock file may have.
const maxColumns = 100

// stockFile is a stock file being read.
type stockFile struct {
	walker
	known  []column
	rows   *csv.Reader
	means  []*column      // of each column of the file; nil for one that is carried through
	more   []string       // the names of those that are
	listed map[string]int // the lines of parts, by their names
	parts  []Part
}

// readStock reads a stock file: comma-separated values with a line of names above
// them; lines that begin with # say nothing. file is the name that faults carry, value
// the type of the parts' values. The parts come in ascending order of their values; of
// one value the cheapest comes first (those without a price last), then the one with
// the tightest tolerance, then the one that the file lists first.
func readStock(file string, text []byte, value Type) (parts []Part, columns []string, faults []Fault) {
	r := &stockFile{walker: walker{reader: &reader{file: file, stock: true}}, known: stockColumns(value), listed: map[string]int{}}
	if r.split(text) {
		r.rows = csv.NewReader(strings.NewReader(strings.Join(r.lines, "\n")))
		r.rows.Comment, r.rows.TrimLeadingSpace, r.rows.FieldsPerRecord = '#', true, -1
		if r.header() {
			for r.row() && len(r.faults) <= maxFaults {
			}
		}
		if len(r.faults) == 0 && len(r.parts) == 0 {
			r.fault(r.inside(Pos{len(r.lines), 1}), "the file lists no part", "write a line for each, such as "+code(r.examples()))
		}
	}
	slices.SortStableFunc(r.parts, func(a, b Part) int {
		return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(a.price, b.price), cmp.Compare(a.Tolerance, b.Tolerance))
	})
	return r.parts, r.more, r.sorted()
}

// examples is a row with what every part has.
func (r *stockFile) examples() string {
	var out []string
	for _, c := range r.known {
		if c.Required {
			out = append(out, c.Example)
		}
	}
	return strings.Join(out, ", ")
}

// names are those of the columns that every file has, and of those that it may have.
func (r *stockFile) names() (required, optional []string) {
	for _, c := range r.known {
		if c.Required {
			required = append(required, c.Name)
		} else {
			optional = append(optional, c.Name)
		}
	}
	return required, optional
}

// record is the next row with the places of its fields, nil where there is none.
func (r *stockFile) record() (fields []*node) {
	record, err := r.rows.Read()
	var wrong *csv.ParseError
	switch {
	case errors.As(err, &wrong):
		right := "put the whole value in quotation marks, and write each one inside it twice"
		r.fault(r.place(wrong.Line, wrong.Column), "a quotation mark that is not around a whole value, or has no partner", right)
		return nil
	case err != nil: // io.EOF, the only other error of a text in memory
		return nil
	}
	for i, text := range record {
		fields = append(fields, &node{at: r.place(r.rows.FieldPos(i)), shape: scalar, text: strings.TrimSpace(text)})
	}
	return fields
}

// place is a place in the file whose column counts bytes.
func (r *stockFile) place(line, column int) Pos {
	text := r.line(line)
	return Pos{line, utf8.RuneCountInString(text[:min(max(column-1, 0), len(text))]) + 1}
}

// header reads the names of the columns. It is false where no row can be judged.
func (r *stockFile) header() bool {
	required, optional := r.names()
	first := r.record()
	if first == nil {
		if len(r.faults) == 0 {
			r.fault(r.inside(Pos{1, 1}), "the file has no content", "a stock file begins with the names of its columns: "+code(strings.Join(required, ", ")))
		}
		return false
	}
	switch {
	case len(first) == 1 && strings.Contains(first[0].text, ";"):
		r.fault(first[0].at, "the columns are separated by semicolons", "separate them by commas, and write decimal points")
		return false
	case len(first) > maxColumns:
		r.fault(first[0].at, fmt.Sprintf("the file has %d columns, more than the %d that a stock file may have", len(first), maxColumns), "is it the right file?")
		return false
	}
	seen := map[string]bool{}
	for _, n := range first {
		seen[n.text] = true
	}
	missing := func(name string) bool { return !seen[name] }
	for i, n := range first {
		r.means = append(r.means, r.column(n.text))
		switch {
		case n.text == "":
			r.fault(n.at, "a column without a name", "name it, or remove it")
		case slices.ContainsFunc(first[:i], func(o *node) bool { return o.text == n.text }):
			r.fault(n.at, fmt.Sprintf("the column %s is there twice", quoted(n.text)), "keep one of them")
		case r.means[i] == nil:
			// One that was meant is not to be carried through unread.
			if meant := Nearest(n.text, slices.DeleteFunc(slices.Concat(required, optional), func(s string) bool { return seen[s] })); meant != "" {
				r.fault(n.at, fmt.Sprintf("the column %s means nothing to the program", quoted(n.text)), "did you mean "+quoted(meant)+"? A column of your own needs a name less like that")
				seen[meant] = true
			} else if r.text(&Value{Pos: n.at, Text: n.text}, maxText) != nil {
				r.more = append(r.more, n.text)
			}
		}
	}
	if lacks := slices.DeleteFunc(slices.Clone(required), func(s string) bool { return !missing(s) }); len(lacks) > 0 {
		r.fault(first[0].at, "the file has no column "+list(ticked(lacks), "and"),
			"its first line names the columns: "+list(ticked(required), "and")+", and where known "+list(ticked(optional), "and"))
	}
	return len(r.faults) == 0
}

// column is the one of a name, nil for one without a meaning.
func (r *stockFile) column(name string) *column {
	if i := slices.IndexFunc(r.known, func(c column) bool { return c.Name == name }); i >= 0 {
		return &r.known[i]
	}
	return nil
}

// row reads a part. It is false at the end of the file, and where the rest of it
// cannot be told apart.
func (r *stockFile) row() bool {
	fields := r.record()
	if fields == nil {
		return false
	}
	if len(fields) != len(r.means) {
		r.fault(fields[0].at, fmt.Sprintf("this row has %d of the file's %d columns", len(fields), len(r.means)),
			"leave nothing between two commas where something is not known; put text with a comma in it in quotation marks; write a decimal point")
		return true
	}
	p := Part{price: math.Inf(1)}
	before := len(r.faults)
	for i, n := range fields {
		c := r.means[i]
		switch {
		case c == nil && n.text != "":
			r.text(&Value{Pos: n.at, Text: n.text}, maxText)
			fallthrough
		case c == nil:
			p.More = append(p.More, n.text)
		case n.text != "":
			if v := r.scalar(n, &c.Type, holder{at: n.at, name: quoted(c.Name), key: c.Name, example: c.Example}); v != nil {
				c.take(&p, v)
			}
		case c.Required:
			r.fault(n.at, "this row has no "+quoted(c.Name), "write "+code(c.Example)+", or remove the row")
		}
	}
	if line, twice := r.listed[p.Name]; p.Name != "" && twice {
		at := fields[slices.IndexFunc(r.means, func(c *column) bool { return c != nil && c.Name == "part" })].at
		r.fault(at, fmt.Sprintf("the part %s is listed twice", quoted(p.Name)), fmt.Sprintf("the first is on line %d: keep one of them", line))
	} else {
		r.listed[p.Name] = fields[0].at.Line
	}
	if len(r.faults) == before {
		r.parts = append(r.parts, p)
	}
	return true
}
