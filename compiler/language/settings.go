package language

import (
	"fmt"
	"slices"
	"strings"
)

// settings checks what the grammar cannot of the choices.
func (b *builder) settings(root *Value) {
	v := root.Get("settings")
	b.settingsKnown = true
	if v == nil {
		b.settingsKnown = !slices.ContainsFunc(root.fields(), func(f Field) bool { return f.Key == "settings" })
		return
	}
	for _, f := range v.Fields {
		set := Setting{Name: f.Key, Pos: f.KeyPos}
		for _, c := range f.Value.items() {
			if c != nil && !b.choice(c) {
				c = nil
			}
			set.Choices = append(set.Choices, c)
		}
		b.spec.Settings = append(b.spec.Settings, set)
	}
}

// combinations refuses more combinations of choices than are verified.
func (b *builder) combinations() {
	all := 1
	for _, s := range b.spec.Settings {
		if all *= max(1, len(s.Choices)); all > maxCombinations {
			b.fault(s.Pos, fmt.Sprintf("with this setting there are more than %d combinations of choices", maxCombinations), "fewer settings, or fewer choices")
			return
		}
	}
}

// choice checks that a choice can become an identifier.
func (b *builder) choice(c *Value) bool {
	const signs = " ._+-"
	for _, r := range c.Text {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(signs, r) {
			continue
		}
		right := "a choice is letters a–z and A–Z, digits, spaces and the signs . _ + -"
		if fixed := strings.NewReplacer("\u2212", "-", ",", ".").Replace(c.Text); fixed != c.Text && number(fixed) > 0 {
			right = "write " + code(fixed)
		}
		b.fault(c.Pos, fmt.Sprintf("the choice %s contains the character %s", quoted(c.Text), quoted(string(r))), right)
		return false
	}
	if len(c.Text) > maxName {
		b.fault(c.Pos, fmt.Sprintf("a choice of more than %d characters", maxName), "shorten it")
		return false
	}
	return true
}

// enums refuses settings and choices that would have the same name in C.
func (b *builder) enums() {
	type owner struct {
		name string
		line int
	}
	claim := func(seen map[string]owner, enum, name string, at Pos) bool {
		o, taken := seen[enum]
		switch {
		case !taken:
			seen[enum] = owner{name, at.Line}
			return true
		case o.name == name:
			b.fault(at, quoted(name)+" is given twice", fmt.Sprintf("the first is on line %d: keep one of them", o.line))
		default:
			b.fault(at, fmt.Sprintf("%s and %s are both %s in C", quoted(o.name), quoted(name), quoted(enum)), "choose another name for one of them")
		}
		return false
	}
	settings, choices := map[string]owner{}, map[string]owner{}
	for _, s := range b.spec.Settings {
		if !claim(settings, EnumName(s.Name), s.Name, s.Pos) {
			continue
		}
		for _, c := range s.Choices {
			if c != nil {
				claim(choices, strings.ToUpper(b.spec.Name)+"_"+EnumName(s.Name)+"_"+EnumName(c.Text), c.Text, c.Pos)
			}
		}
	}
}

// conditions resolves `when` against the settings.
func (b *builder) conditions(v *Value) []Condition {
	var out []Condition
	for _, f := range v.fields() {
		i := slices.IndexFunc(b.spec.Settings, func(s Setting) bool { return s.Name == f.Key })
		if i < 0 {
			b.unknownSetting(f, "leave `when` out")
			continue
		}
		c := Condition{Setting: i, Pos: f.KeyPos}
		choices := f.Value.items()
		if f.Value != nil && choices == nil {
			choices = []*Value{f.Value}
		}
		for _, w := range choices {
			if w == nil {
				continue
			}
			switch k := b.choiceIndex(i, w.Text, w.Pos); {
			case k < 0:
			case slices.Contains(c.Choices, k):
				b.fault(w.Pos, quoted(w.Text)+" is given twice", "keep one of them")
			default:
				c.Choices = append(c.Choices, k)
			}
		}
		slices.Sort(c.Choices)
		out = append(out, c)
	}
	return out
}

// unknownSetting reports a key that is no setting; otherwise is what to do in a spec
// without any.
func (b *builder) unknownSetting(f Field, otherwise string) {
	if !b.settingsKnown {
		return
	}
	var names []string
	for _, s := range b.spec.Settings {
		names = append(names, s.Name)
	}
	right := "the settings are " + list(ticked(names), "and")
	if s := Nearest(f.Key, names); s != "" {
		if !isName(s, false) {
			return // its own name is the fault
		}
		right = "did you mean " + quoted(s) + "?"
	} else if len(names) == 0 {
		right = "the spec has no `settings`: add a setting with its choices, or " + otherwise
	}
	b.fault(f.KeyPos, quoted(f.Key)+" is not a setting", right)
}

// choiceIndex finds a choice of setting i, -1 with a fault where there is none.
func (b *builder) choiceIndex(i int, text string, at Pos) int {
	s := b.spec.Settings[i]
	var texts []string
	for k, c := range s.Choices {
		if c == nil {
			return -1 // one had a fault: it may be this
		}
		if c.Text == text {
			return k
		}
		texts = append(texts, c.Text)
	}
	if texts == nil {
		return -1
	}
	right := "the choices are " + list(ticked(texts), "and")
	if c := Nearest(text, texts); c != "" {
		right = "did you mean " + quoted(c) + "?"
	}
	b.fault(at, fmt.Sprintf("%s is not a choice of the setting %s", quoted(text), quoted(s.Name)), right)
	return -1
}
