package cheader

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/language"
)

// owner is what a C name stands for: a setting by its index, and one of its choices, -1 for itself; or a way, or
// what every header declares, with the setting -1.
type owner struct {
	text            string
	setting, choice int
}

// itself owns what every header declares.
var itself = owner{"the code itself", -1, -1}

// clash is a C name that the spec gives to something, while another owner has it already.
type clash struct {
	name       string
	has, wants owner
}

// names collects every name that the header declares, to find those that are given twice.
type names struct {
	owner   map[string]owner
	clashes []clash
}

func (n *names) add(name string, o owner) {
	if other, taken := n.owner[name]; taken {
		n.clashes = append(n.clashes, clash{name, other, o})
		return
	}
	n.owner[name] = o
}

// own are the names that header and code themselves declare, behind the stem.
var own = strings.Fields(`state memory init set_rate reset reset_channel mute muted garbage run run_frames run_frames_int32
	way_index channel_state switch_entry cascade_entry rate_entry pick_table rate_table run_list
	fade make_list make_lists change_settings rest tick_channel tick begin rate_of refuse_channel ask asked
	frames take give choices silence silence_all start run_all run_side_by_side
	run_common run_ways run_cascade run_beside shade whole fixed behind run_block`)

// ownOfForms are those of forms, each where a section has it and a loop takes one, and what is there where
// no pass takes a gain along, a way is late, single samples have a way of their own, or all rates have the same positions.
var ownOfForms = strings.Fields(`section_words position_table switch_table row_3 row_rest_6 recall remember late lane_from lane_hears apply_gain run_direct run_error_feedback run_delta_fine run_delta_wide run_delta_deep
	first first_states keep_first words_2 words_3 words_5 words_6 words_7 words_9 words_10 words_12 states_1 states_2 states_3 keep_states_1 keep_states_2 keep_states_3
	load_direct load_error_feedback load_delta_fine load_delta_wide load_delta_deep keep_direct keep_error_feedback keep_delta_fine keep_delta_wide keep_delta_deep`)

// ownOfSamples are those of single samples, where these have a way of their own.
var ownOfSamples = strings.Fields(`step run_one`)

// ownOfPairs are those where two channels go together, ownOfWhole where words are whole numbers.
var (
	ownOfPairs = strings.Fields(`row_5 load_0 load_1 keep_0 keep_1 row_at find_mates`)
	ownOfWhole = strings.Fields(`row_first row_rest_5`)
)

// ownOfLanes are those of lanes, where there are any; of both cases.
var ownOfLanes = strings.Fields(`lanes marks short short_marks lane_words lane_marks lane_section lane_group lane_store lane_room lane_groups lane_pass lane_passes
	lane_fill lane_enter lane_plan enter_lanes leave_lanes rest_lanes calm run_lanes lanes_used lane_take lane_common step_lanes block_lanes run_calm init_no_lanes lane_inputs lane_outputs lane_give frame_lanes
	lane_alone lane_forms lane_more lane_plan_alone lane_list lane_sample lane_groups_at lanes_begin step_frame rate_here run_alone
	turn lanes_direct_3 lanes_direct_5 lanes_delta_3 lanes_delta_5 lanes_mixed_3 lanes_mixed_5 lanes_ragged_3 lanes_ragged_5
	LANES GROUPS DEEP LONG SAVING ALWAYS NO_LANES SHUFFLE BACK`)

// ownUpper are its macros, behind the stem in capitals.
var ownUpper = strings.Fields(`FORMAT SPEC_SHA256 CHANNELS WAYS RATES POSITIONS THEN DELAY_WORDS HISTORY SETTINGS SWITCHES
	MUTE NONE READY CHECK TICK REST SIZE GARBAGE ROW HEAD ONE_MORE FULL NOINLINE COLD SMALL BLOCKS INLINE NO_SINGLES`)

// ofRates are the names of each rate's tables, in front of its hertz.
var ofRates = strings.Fields("sections positions switches lists")

// check finds names that collide: two ways or choices that differ only in signs, or a setting that is called
// like something of the header's own.
func (h *header) check() []clash {
	n := names{owner: map[string]owner{}}
	for _, s := range slices.Concat(own, ownOfForms, ownOfSamples, ownOfPairs, ownOfWhole) {
		n.add(h.Stem+"_"+s, itself)
	}
	for _, s := range ownOfLanes {
		if s == strings.ToUpper(s) {
			n.add(h.Upper+"_"+s, itself)
		} else {
			n.add(h.Stem+"_"+s, itself)
		}
	}
	for _, s := range ownUpper {
		n.add(h.Upper+"_"+s, itself)
	}
	for _, f := range h.functions() {
		n.add(h.Stem+"_"+f.Name, itself)
	}
	for _, m := range h.C.Macros {
		n.add(h.Upper+"_"+m, itself)
	}
	for _, f := range number.Formats {
		n.add(h.Upper+"_"+strings.ToUpper(f.Name)+"_H", itself)
	}
	for i, w := range h.Ways {
		n.add(w, owner{"the way `" + h.wayNames[i] + "`", -1, -1})
	}
	for i, s := range h.Settings {
		is := owner{"the setting `" + s.name + "`", i, -1}
		for _, name := range []string{s.Ident, "set_" + s.Ident, "get_" + s.Ident, s.Ident + "_names"} {
			n.add(h.Stem+"_"+name, is)
		}
		n.add(s.Count, is)
		for j, c := range s.Choices {
			n.add(c.Name, owner{fmt.Sprintf("the choice `%s` of `%s`", c.text, s.name), i, j})
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
