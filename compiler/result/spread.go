package result

import (
	"bandwright/compiler/batch"
	"bandwright/compiler/netlist"
)

// Spread is what boards are like with the tolerances of their parts: so many simulated
// ones, parts independent of each other, each the same board in every setting. All
// deviations are from the prototype, in dB, where it is within 20 dB of its peak.
type Spread struct {
	Boards int `json:"boards"`
	// LimitDB and Share are promised: this share of all boards within the limit.
	LimitDB float64 `json:"limit_db"`
	Share   float64 `json:"share"`
	// TrimDB is what each way's level trimmer can do, 0 for a board without; figures
	// after trim are then those with trimmers of AssumedTrimDB.
	TrimDB        float64 `json:"trim_db"`
	AssumedTrimDB float64 `json:"assumed_trim_db"`
	// InUse: values drift, and boards are judged as delivered and aged, at both ends of
	// the temperature.
	InUse bool `json:"in_use"`
	// Within is what the promised share of boards stays within, every way and the sum,
	// Furthest the furthest board, and Apart what the same share of pairs of boards are
	// apart from each other; with trim where the board has trimmers.
	Within   WayDeviation `json:"within"`
	Furthest WayDeviation `json:"furthest"`
	Apart    WayDeviation `json:"between_boards"`
	Ways     []WaySpread  `json:"ways"` // the sum last
	Yields   []Yield      `json:"yields"`
	// Classes are the yields with all capacitors of stages of another tolerance.
	Classes []ClassYield `json:"classes"`
	// Rejection is that of a balanced input to what both legs carry; empty for one that
	// is not balanced.
	Rejection []Rejection `json:"common_mode_rejection"`
}

// WaySpread is that of one way, or of the sum.
type WaySpread struct {
	Way string `json:"way"`
	// Plain is without level trim and Trimmed with it.
	Plain   Percentiles `json:"plain"`
	Trimmed Percentiles `json:"trimmed"`
	// Between are the differences of two boards, with trim where the board has trimmers.
	Between Percentiles `json:"between_boards"`
	// Highest and Lowest are the worst corners: every part at one end of its tolerance,
	// without trim.
	Highest Deviation `json:"corner_highest"`
	Lowest  Deviation `json:"corner_lowest"`
	// Sigma is the standard deviation where it is greatest, and Matters the parts that
	// make most of it.
	Sigma   Deviation `json:"sigma"`
	Matters []Matter  `json:"matters"`
}

// Percentiles are deviations that so many percent of all boards stay within, each at
// the place of the last board of them.
type Percentiles struct {
	P50   Deviation `json:"p50"`
	P95   Deviation `json:"p95"`
	P99   Deviation `json:"p99"`
	Worst Deviation `json:"worst"`
}

// Deviation is a deviation with its place.
type Deviation struct {
	DB      float64           `json:"db"`
	Hz      float64           `json:"hz"`
	Setting map[string]string `json:"setting"`
}

// WayDeviation is one with the way that it is found in, or the sum.
type WayDeviation struct {
	Way string    `json:"way"`
	At  Deviation `json:"at"`
}

// Matter is a part, with what one percent more of it does there and its share of the
// variance.
type Matter struct {
	Ref          string  `json:"ref"`
	Chain        string  `json:"chain"` // "common" or its way
	Ohm          float64 `json:"ohm,omitempty"`
	Farad        float64 `json:"farad,omitempty"`
	Tolerance    float64 `json:"tolerance"`
	DBPerPercent float64 `json:"db_per_percent"`
	Share        float64 `json:"share"`
}

// Yield is the share of boards of which every way and the sum stay within a limit, and
// the interval that it lies in with a confidence of 95 %.
type Yield struct {
	LimitDB float64 `json:"limit_db"`
	Trimmed bool    `json:"trimmed"`
	Boards  int     `json:"boards"`
	Inside  int     `json:"inside"`
	Share   float64 `json:"share"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
}

// ClassYield is the yield at the promised limit with other capacitors.
type ClassYield struct {
	Capacitors float64 `json:"capacitors"` // their tolerance
	Plain      Yield   `json:"plain"`
	Trimmed    Yield   `json:"trimmed"`
}

// Rejection is the common-mode rejection (dB) that so many percent of all boards have
// at least, at one frequency, and that of the worst board.
type Rejection struct {
	Hz    float64 `json:"hz"`
	P50   float64 `json:"p50"`
	P95   float64 `json:"p95"`
	P99   float64 `json:"p99"`
	Worst float64 `json:"worst"`
}

// spreadOf is the spread of a batch, nil where none was simulated.
func spreadOf(b *batch.Batch) *Spread {
	if b == nil {
		return nil
	}
	out := &Spread{Boards: b.Boards, LimitDB: b.LimitDB, Share: b.Share, TrimDB: b.TrimDB, AssumedTrimDB: b.AssumedTrimDB, InUse: b.Drifts,
		Within: inWay(b.Within), Furthest: inWay(b.Furthest), Apart: inWay(b.Apart),
		Ways: []WaySpread{}, Yields: []Yield{}, Classes: []ClassYield{}, Rejection: []Rejection{}}
	for _, r := range b.Rows {
		w := WaySpread{Way: r.Name, Plain: percentiles(r.Plain), Trimmed: percentiles(r.Trimmed), Between: percentiles(r.Match),
			Highest: deviation(r.Highest), Lowest: deviation(r.Lowest), Sigma: deviation(r.Widest), Matters: []Matter{}}
		for _, m := range r.Matters {
			x := Matter{Ref: m.Ref, Chain: m.Chain, Tolerance: m.Tolerance, DBPerPercent: m.DBPerPercent, Share: m.Share}
			if m.Kind == netlist.Capacitor {
				x.Farad = m.Value
			} else {
				x.Ohm = m.Value
			}
			w.Matters = append(w.Matters, x)
		}
		out.Ways = append(out.Ways, w)
	}
	for i := range b.Plain {
		out.Yields = append(out.Yields, yield(b.Plain[i], false), yield(b.Trimmed[i], true))
	}
	for _, c := range b.Classes {
		out.Classes = append(out.Classes, ClassYield{c.Tolerance, yield(c.Plain, false), yield(c.Trimmed, true)})
	}
	for _, r := range b.Rejections {
		out.Rejection = append(out.Rejection, Rejection(r))
	}
	return out
}

func yield(y batch.Yield, trimmed bool) Yield {
	return Yield{y.LimitDB, trimmed, y.Boards, y.Inside, y.Share, y.Low, y.High}
}

func deviation(p batch.Place) Deviation { return Deviation{p.DB, p.Hz, setting(p.With)} }

func inWay(p batch.RowPlace) WayDeviation { return WayDeviation{p.Row, deviation(p.Place)} }

func percentiles(p batch.Percentiles) Percentiles {
	return Percentiles{deviation(p.P50), deviation(p.P95), deviation(p.P99), deviation(p.Worst)}
}
