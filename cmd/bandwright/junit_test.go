package main

import (
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// element is any XML element.
type element struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Children []element  `xml:",any"`
	Text     string     `xml:",chardata"`
}

func (e *element) attr(name string) string {
	for _, a := range e.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// child is that of an element of a kind and a name, nil if none.
func (e *element) child(kind, name string) *element {
	for i := range e.Children {
		if c := &e.Children[i]; c.XMLName.Local == kind && (name == "" || c.attr("name") == name) {
			return c
		}
	}
	return nil
}

// modelOf is a content model as a regular expression over names, each with a
// space behind it.
func modelOf(schema *element) string {
	text := ""
	switch schema.XMLName.Local {
	case "element":
		text = "(" + regexp.QuoteMeta(schema.attr("ref")) + " )"
	case "sequence", "choice":
		var all []string
		for i := range schema.Children {
			all = append(all, modelOf(&schema.Children[i]))
		}
		text = "(" + strings.Join(all, map[string]string{"sequence": "", "choice": "|"}[schema.XMLName.Local]) + ")"
	}
	switch {
	case schema.attr("minOccurs") == "0" && schema.attr("maxOccurs") == "unbounded":
		return text + "*"
	case schema.attr("minOccurs") == "0":
		return text + "?"
	case schema.attr("maxOccurs") == "unbounded":
		return text + "+"
	}
	return text
}

// invalid says what of an element a schema does not allow, and of those below it.
func invalid(schema, e *element) (faults []string) {
	name := e.XMLName.Local
	say := func(format string, args ...any) { faults = append(faults, name+": "+fmt.Sprintf(format, args...)) }
	is := schema.child("element", name)
	if is == nil {
		return []string{name + " is not an element"}
	}
	is = is.child("complexType", "")
	model, names := "", ""
	for _, kind := range []string{"sequence", "choice"} {
		if c := is.child(kind, ""); c != nil {
			model = modelOf(c)
		}
	}
	for i := range e.Children {
		names += e.Children[i].XMLName.Local + " "
		faults = append(faults, invalid(schema, &e.Children[i])...)
	}
	if !regexp.MustCompile("^" + model + "$").MatchString(names) {
		say("the elements %sare not as %s", names, model)
	}
	if is.attr("mixed") == "" && strings.TrimSpace(e.Text) != "" {
		say("text")
	}
	for _, a := range e.Attrs {
		rule := is.child("attribute", a.Name.Local)
		if rule == nil {
			say("the attribute %s is not allowed", a.Name.Local)
			continue
		}
		if t := schema.child("simpleType", rule.attr("type")); t != nil {
			pattern := t.child("restriction", "").child("pattern", "").attr("value")
			if !regexp.MustCompile("^(?:" + pattern + ")$").MatchString(a.Value) {
				say("%s=%q is no %s", a.Name.Local, a.Value, rule.attr("type"))
			}
		}
	}
	for i := range is.Children {
		if c := &is.Children[i]; c.attr("use") == "required" && e.attr(c.attr("name")) == "" {
			say("the attribute %s is missing", c.attr("name"))
		}
	}
	return faults
}

func parsedXML(t *testing.T, text string) *element {
	t.Helper()
	var e element
	if err := xml.Unmarshal([]byte(text), &e); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return &e
}

func junitSchema(t *testing.T) *element {
	t.Helper()
	data, err := os.ReadFile("testdata/junit.xsd")
	if err != nil {
		t.Fatal(err)
	}
	return parsedXML(t, string(data))
}

// A report of every outcome keeps to the schema, and its counts and times to
// its cases.
func TestJUnitIsValid(t *testing.T) {
	schema := junitSchema(t)
	dir, spec := acceptedWren(t)
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1))
	put(t, filepath.Join(dir, "finch.yaml"), small("finch", tight, "float32"))
	put(t, filepath.Join(dir, "bad.yaml"), "bandwright: 1\nname: bad\nwas: <it> & \"more\"\n")
	for _, args := range [][]string{
		{"check", "wren.yaml", "finch.yaml", "bad.yaml", "none.yaml", "--against", "accepted"},
		{"check", "finch.yaml"},
		{"diff", "accepted/wren.accepted.json", "wren.yaml"},
		{"diff", "wren.yaml", "wren.yaml"},
	} {
		r := bandwright(t, dir, append(args, "--format", "junit")...)
		report := parsedXML(t, r.out)
		for _, f := range invalid(schema, report) {
			t.Errorf("%v: %s\n%s", args, f, r.out)
		}
		for i := range report.Children {
			s, cases, failures, errors, took := &report.Children[i], 0, 0, 0, 0.0
			for k := range s.Children {
				c := &s.Children[k]
				if c.XMLName.Local != "testcase" {
					continue
				}
				cases++
				if c.child("failure", "") != nil {
					failures++
				}
				if c.child("error", "") != nil {
					errors++
				}
				x, _ := strconv.ParseFloat(c.attr("time"), 64)
				took += x
			}
			if got, want := fmt.Sprint(s.attr("tests"), s.attr("failures"), s.attr("errors")), fmt.Sprint(strconv.Itoa(cases), strconv.Itoa(failures), strconv.Itoa(errors)); got != want {
				t.Errorf("%v, %s: counts %s, want %s", args, s.attr("name"), got, want)
			}
			if all, _ := strconv.ParseFloat(s.attr("time"), 64); all-took > 0.002 || took-all > 0.002 {
				t.Errorf("%v, %s: %g s, its cases %g s", args, s.attr("name"), all, took)
			}
		}
		if args[0] == "check" && !regexp.MustCompile(`time="(0\.[0-9]*[1-9]|[1-9])`).MatchString(r.out) {
			t.Errorf("%v: nothing took any time\n%s", args, r.out)
		}
	}
	for what, text := range map[string]string{
		"no type":       `<failure message="x"/>`,
		"two outcomes":  `<skipped/><error type="x"/>`,
		"another child": `<system-out/>`,
	} {
		if invalid(schema, parsedXML(t, `<testcase name="a" classname="b" time="0.1">`+text+`</testcase>`)) == nil {
			t.Errorf("%s passes", what)
		}
	}
	for _, attrs := range []string{`name="a" time="0"`, `name="a" classname="b" time="1e-3"`, `name="a" classname="b" time="0" line="1"`} {
		if invalid(schema, parsedXML(t, `<testcase `+attrs+`/>`)) == nil {
			t.Errorf("%s passes", attrs)
		}
	}
}
