package result

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
)

// ReadAccepted takes a NAME.accepted.json. It fails on another kind of file or
// version, on one that lacks what it must have, and on one whose table and
// coefficients belong to different realisations, as after a merge of two.
func ReadAccepted(data []byte) (*Accepted, error) {
	var a Accepted
	if err := json.Unmarshal(data, &a); err != nil {
		return nil, fmt.Errorf("not an accepted result of bandwright: %w", err)
	}
	switch {
	case a.Accepted == 0 || a.Name == "":
		return nil, fmt.Errorf("not an accepted result of bandwright: `accepted` or `name` is missing")
	case a.Accepted != AcceptedVersion:
		return nil, fmt.Errorf("an accepted result of version %d; this bandwright reads version %d: write it anew from the spec that was accepted, with `bandwright check SPEC --against DIR --accept`",
			a.Accepted, AcceptedVersion)
	}
	for _, s := range a.Settings {
		if len(s.Choices) == 0 {
			return nil, fmt.Errorf("the setting `%s` has no choices", s.Name)
		}
	}
	for i := range a.Digital {
		if err := a.Digital[i].check(); err != nil {
			return nil, err
		}
	}
	if a.Board != nil && a.Board.Wired() {
		if err := a.Board.check(); err != nil {
			return nil, fmt.Errorf("the board: %w", err)
		}
	}
	for i := range a.Drivers {
		if err := a.Drivers[i].check(); err != nil {
			return nil, err
		}
	}
	return &a, a.agree()
}

// check says what of a realisation could not be evaluated.
func (d *AcceptedDigital) check() error {
	if !(d.RateHz > 0) {
		return fmt.Errorf("a realisation without a `rate_hz`")
	}
	if len(d.Ways) == 0 {
		return fmt.Errorf("%s has no ways", d.name())
	}
	for k, w := range d.Ways {
		if d.Way(w.Way) != k {
			return fmt.Errorf("%s has the way `%s` twice", d.name(), w.Way)
		}
	}
	for _, c := range append([]AcceptedChain{d.Common}, d.Ways...) {
		for _, s := range c.Coefficients {
			if _, ok := biquad.FormNamed(s.Form); !ok || len(s.B) != 3 || len(s.A) != 3 || s.A[0] != 1 {
				return fmt.Errorf("%s %s: a section needs a form, three `b` and three `a` that begin with 1", d.name(), c.Way)
			}
		}
	}
	return nil
}

const (
	// mergeDB is how far table and coefficients may lie apart: their digits
	// leave 0.0006 dB where a way is heard.
	mergeDB     = 0.005
	mergeDownTo = -60 // dB below which digits are too few to tell
)

// agree holds the tables against the coefficients.
func (a *Accepted) agree() error {
	for _, t := range a.Tables {
		i := slices.IndexFunc(a.Digital, func(d AcceptedDigital) bool { return d.RateHz == t.RateHz && d.Format == Reference })
		if i < 0 {
			return fmt.Errorf("a table at %g Hz without its coefficients: accept the spec again", t.RateHz)
		}
		d := &a.Digital[i]
		for _, row := range t.Rows {
			k := d.Way(row.Way)
			if k < 0 || len(row.DB) != len(t.Hz) || len(row.Deg) != len(t.Hz) {
				return fmt.Errorf("the table at %g Hz does not match the ways: accept the spec again", t.RateHz)
			}
			for n, h := range d.Response(k, row.Setting, t.Hz) {
				if db := biquad.DB(h); math.Max(db, row.DB[n]) > mergeDownTo && math.Abs(db-row.DB[n]) > mergeDB {
					return fmt.Errorf("%s at %g Hz is %.3f dB in the table and %.3f dB by its coefficients: they come from different results, as after a merge; accept the spec again",
						row.Way, t.Hz[n], row.DB[n], db)
				}
			}
		}
	}
	return nil
}
