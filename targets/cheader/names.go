package cheader

import (
	"errors"
	"fmt"
	"strings"

	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/cname"
	"bandwright/compiler/language"
)

// owner is what a C name stands for: a setting by its index, and one of its choices, -1 for itself; or a way, or
// what programs go by in every header, with the setting -1.
type owner struct {
	text            string
	setting, choice int
}

// itself owns what programs go by in every header.
var itself = owner{"the code itself", -1, -1}

// clash is a C name that the spec gives to something, while another owner has it already.
type clash struct {
	name       string
	has, wants owner
}

// names collects what a spec gives names to and what programs go by, to find names that are given twice.
type names struct {
	owner   map[string]owner
	clashes []clash
}

func (n *names) add(name string, o owner) {
	if other, taken := n.owner[name]; taken && other == o { // two rates of as many whole hertz, which are refused by themselves
		return
	} else if taken {
		n.clashes = append(n.clashes, clash{name, other, o})
		return
	}
	n.owner[name] = o
}

// public are the names that programs go by, behind the stem, and publicUpper the macros: no setting and no choice gets one of
// them. All others are the code's own, and give way to the spec's (cname.Names). A name more here refuses specs that were
// accepted before.
var (
	public      = strings.Fields("state way_index init set_rate reset reset_channel mute muted garbage run run_frames run_frames_int32")
	publicUpper = strings.Fields("FORMAT SPEC_SHA256 CHANNELS WAYS SETTINGS NO_LANES NO_SINGLES SELFTEST_MAIN")
)

// check finds names that collide: two ways or choices that differ only in signs, or a setting that is called
// like something that programs go by.
func (h *header) check() []clash {
	n := names{owner: map[string]owner{}}
	add := func(name string, o owner) { n.add(cname.Plain(name), o) }
	for _, s := range public {
		add(h.Stem+"_"+s, itself)
	}
	for _, s := range publicUpper {
		add(h.Upper+"_"+s, itself)
	}
	for _, hz := range h.hertz {
		add(fmt.Sprintf("%s_ONLY_%d", h.Upper, hz), itself)
	}
	for i, w := range h.Ways {
		add(w, owner{"the way `" + h.wayNames[i] + "`", -1, -1})
	}
	for i, s := range h.Settings {
		is := owner{"the setting `" + s.name + "`", i, -1}
		for _, name := range h.names.Functions(h.names.Settings[i]) {
			add(name, is)
		}
		add(s.Count, is)
		for j, c := range s.Choices {
			add(c.Name, owner{fmt.Sprintf("the choice `%s` of `%s`", c.text, s.name), i, j})
		}
	}
	return n.clashes
}

// collision is an error that names the first of what collides; nil where nothing does.
func (h *header) collision() error {
	if c := h.check(); len(c) > 0 {
		return errors.New(c[0].String())
	}
	return nil
}

// String tells who needs the name.
func (c clash) String() string {
	return fmt.Sprintf("%s needs the C name `%s`, which %s has", c.wants.text, c.name, c.has.text)
}

// Names finds what the spec calls so that the C code of any format which it asks for cannot be written: one fault
// a setting or choice. Ways of like names are the parser's to refuse.
func Names(b *compiler.Build) []language.Fault {
	told := map[language.Pos]bool{}
	var faults []language.Fault
	for _, f := range number.Formats {
		made := inFormat(b, f)
		if len(made) == 0 {
			continue
		}
		for _, c := range named(b, made).check() {
			if c.wants.setting < 0 {
				continue
			}
			s := b.Spec.Settings[c.wants.setting]
			at, word := s.Pos, s.Name
			if c.wants.choice >= 0 {
				at, word = s.Choices[c.wants.choice].Pos, s.Choices[c.wants.choice].Text
			}
			if !told[at] {
				told[at] = true
				faults = append(faults, b.Spec.Fault(language.Error, at, c.String(), "choose another name, such as `"+word+"-1`"))
			}
		}
	}
	return faults
}
