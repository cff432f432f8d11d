package result

// Rename is another name of a setting, or of one of its choices.
type Rename struct {
	Setting string
	Choice  string // "" where the setting itself is called otherwise
	To      string
}

// Called is an accepted result with other names of settings and choices, each rename in the words of those before it.
// What is compared has them; the texts of the spec and the table for people have not.
func (a *Accepted) Called(all []Rename) *Accepted {
	out := *a
	if len(all) == 0 {
		return a
	}
	out.Settings = nil
	for _, s := range a.Settings {
		was := map[string][]string{s.Name: s.Choices}
		for name, choices := range called(was, all) {
			out.Settings = append(out.Settings, Setting{name, choices})
		}
	}
	out.Digital = nil
	for _, d := range a.Digital {
		d.Common = d.Common.called(all)
		ways := d.Ways
		d.Ways = nil
		for _, w := range ways {
			d.Ways = append(d.Ways, w.called(all))
		}
		out.Digital = append(out.Digital, d)
	}
	if b := a.Board; b != nil && b.Contacts != nil {
		board, contacts := *b, *b.Contacts
		contacts.List = nil
		for _, c := range b.Contacts.List {
			closed := c.Closed
			c.Closed = nil
			for _, m := range closed {
				c.Closed = append(c.Closed, called(m, all))
			}
			contacts.List = append(contacts.List, c)
		}
		board.Contacts, out.Board = &contacts, &board
	}
	return &out
}

// called is a chain with other names.
func (c AcceptedChain) called(all []Rename) AcceptedChain {
	sections := c.Coefficients
	c.Coefficients = nil
	for _, s := range sections {
		s.When = called(s.When, all)
		c.Coefficients = append(c.Coefficients, s)
	}
	return c
}

// called are choices by setting, under other names; nil stays nil.
func called(m map[string][]string, all []Rename) map[string][]string {
	if m == nil {
		return nil
	}
	out := map[string][]string{}
	for name, choices := range m {
		choices = append([]string{}, choices...)
		for _, r := range all {
			if r.Setting != name {
				continue
			}
			if r.Choice == "" {
				name = r.To
				continue
			}
			for i, c := range choices {
				if c == r.Choice {
					choices[i] = r.To
				}
			}
		}
		out[name] = choices
	}
	return out
}
