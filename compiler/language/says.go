package language

import "strings"

// Says is a filter in the spec's own words on one line: its kind, what is given of its
// keys, and when it applies. Method and topology, which change how it is made and not
// what it is, are left out.
func (s *Spec) Says(f Filter) string {
	text := f.Kind + " " + f.Args.flow()
	if len(f.When) == 0 {
		return text
	}
	var when []string
	for _, c := range f.When {
		setting := s.Settings[c.Setting]
		var choices []string
		for _, k := range c.Choices {
			choices = append(choices, setting.Choices[k].Text)
		}
		one := strings.Join(choices, ", ")
		if len(choices) > 1 {
			one = "[" + one + "]"
		}
		when = append(when, setting.Name+": "+one)
	}
	return text + " when {" + strings.Join(when, ", ") + "}"
}

// flow is a value as a spec writes it on one line, without its defaults.
func (v *Value) flow() string {
	switch {
	case v.Items != nil:
		var out []string
		for _, x := range v.Items {
			out = append(out, x.flow())
		}
		return "[" + strings.Join(out, ", ") + "]"
	case v.Fields != nil:
		var out []string
		for _, f := range v.Fields {
			if f.Value.Given {
				out = append(out, f.Key+": "+f.Value.flow())
			}
		}
		return "{" + strings.Join(out, ", ") + "}"
	}
	return v.Text
}
