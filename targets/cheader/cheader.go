// Package cheader prints the C headers for firmware: one a number format, with
// the coefficient tables, the filters, the settings and the state in one file
// that C99 and C++17 compile without a warning. A finished Build comes in,
// files go out; the arithmetic of the printed kernel is number.Machine's, bit
// for bit, and that is the one invariant.
//
// Read first: header.h.tmpl, then Emit. What is computed and in which types is
// the number format's: kernel.go prints it.
package cheader

import (
	"bytes"
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"text/template"

	"bandwright/biquad/number"
	"bandwright/compiler"
)

var (
	//go:embed header.h.tmpl
	headerSource string
	//go:embed code.c.tmpl
	codeSource string
	//go:embed lanes.c.tmpl
	lanesSource string
	//go:embed singly.c.tmpl
	singlySource string
	//go:embed single.c.tmpl
	sampleSource string
	//go:embed whole.c.tmpl
	wholeSource string
)

func page(name, source string) *template.Template {
	return template.Must(template.New(name).Funcs(template.FuncMap{
		"inc":  func(i int) int { return i + 1 },
		"fold": fold,
	}).Parse(source))
}

var (
	headerPage = page("header.h", headerSource)
	codePage   = assembled(page("code.c", codeSource), map[string]string{"lanes": lanesSource, "singly": singlySource, "sample": sampleSource, "whole": wholeSource})
)

// assembled adds templates by name.
func assembled(page *template.Template, sources map[string]string) *template.Template {
	for name, s := range sources {
		template.Must(page.New(name).Parse(s))
	}
	return page
}

// Emit makes a header, NAME_FORMAT.h, and the tables and code, NAME_FORMAT.c,
// for every number format that the spec asked for, in the order of
// number.Formats. An error says which C names collide.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	var files []compiler.File
	for _, f := range number.Formats {
		var made []compiler.Digital
		for _, d := range b.Digital {
			if d.Asked && d.Format.Name == f.Name {
				d.System = number.Arranged(d.System)
				made = append(made, d)
			}
		}
		if len(made) == 0 {
			continue
		}
		h, err := newHeader(b, made)
		if err != nil {
			return nil, err
		}
		for _, p := range []struct {
			end  string
			page *template.Template
		}{{".h", headerPage}, {".c", codePage}} {
			var text bytes.Buffer
			if err := p.page.Execute(&text, h); err != nil {
				return nil, fmt.Errorf("%s%s: %w", h.File, p.end, err)
			}
			files = append(files, compiler.File{Name: h.File + p.end, Data: text.Bytes()})
		}
	}
	return files, nil
}

// names collects every name that the header declares, to find two that are the
// same.
type names struct {
	owner map[string]string
	err   error
}

func (n *names) add(name, owner string) {
	if other, taken := n.owner[name]; taken && n.err == nil {
		n.err = fmt.Errorf("%s and %s both need the C name %s; rename one", other, owner, name)
	}
	n.owner[name] = owner
}

// own are the names that header and code themselves declare, behind the stem.
var own = strings.Fields(`state memory init set_rate reset reset_channel mute muted garbage run run_frames run_frames_int32
	way_index channel_state switch_entry cascade_entry rate_entry pick_table rate_table run_list
	fade make_list make_lists change_settings rest tick_channel tick begin rate_of refuse_channel ask asked
	frames take give choices silence silence_all start run_all run_side_by_side
	run_common run_ways run_cascade run_beside shade whole fixed behind run_block`)

// ownOfForms are those of forms, each where a section has it and a loop takes one, and what is there where
// no pass takes a gain along, a way is late, single samples have a way of their own, or all rates have the same positions.
var ownOfForms = strings.Fields(`section_words position_table switch_table row_3 row_rest_6 recall remember late lane_from apply_gain run_direct run_error_feedback run_delta_fine run_delta_wide run_delta_deep
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
	turn lanes_direct_3 lanes_direct_5 lanes_delta_3 lanes_delta_5 lanes_mixed_3 lanes_mixed_5 lanes_ragged_3 lanes_ragged_5
	LANES GROUPS DEEP LONG SAVING ALWAYS NO_LANES SHUFFLE`)

// ownUpper are its macros, behind the stem in capitals.
var ownUpper = strings.Fields(`FORMAT SPEC_SHA256 CHANNELS WAYS RATES POSITIONS THEN DELAY_WORDS HISTORY SETTINGS SWITCHES
	MUTE NONE READY CHECK TICK REST SIZE GARBAGE ROW HEAD ONE_MORE FULL NOINLINE COLD INLINE`)

// ofRates are the names of each rate's tables, in front of its hertz.
var ofRates = strings.Fields("sections positions switches lists")

// check reports names that collide: two ways or choices that differ only in
// signs, or a setting that is called like something of the header's own.
func (h *header) check() error {
	n := names{owner: map[string]string{}}
	for _, s := range slices.Concat(own, ownOfForms, ownOfSamples, ownOfPairs, ownOfWhole) {
		n.add(h.Stem+"_"+s, "the header itself")
	}
	for _, s := range ownOfLanes {
		if s == strings.ToUpper(s) {
			n.add(h.Upper+"_"+s, "the header itself")
		} else {
			n.add(h.Stem+"_"+s, "the header itself")
		}
	}
	for _, s := range ownUpper {
		n.add(h.Upper+"_"+s, "the header itself")
	}
	for _, f := range h.functions() {
		n.add(h.Stem+"_"+f.Name, "the header itself")
	}
	for _, m := range h.C.Macros {
		n.add(h.Upper+"_"+m, "the header itself")
	}
	for _, f := range number.Formats {
		n.add(h.Upper+"_"+strings.ToUpper(f.Name)+"_H", "the header itself")
	}
	for i, w := range h.Ways {
		n.add(w, "way "+h.wayNames[i])
	}
	for _, s := range h.Settings {
		n.add(h.Stem+"_"+s.Ident, "setting "+s.name)
		for _, verb := range []string{"set_", "get_"} {
			n.add(h.Stem+"_"+verb+s.Ident, "setting "+s.name)
		}
		n.add(h.Stem+"_"+s.Ident+"_names", "setting "+s.name)
		n.add(s.Count, "setting "+s.name)
		for _, c := range s.Choices {
			n.add(c.Name, fmt.Sprintf("setting %s, choice %s", s.name, c.text))
		}
	}
	return n.err
}
