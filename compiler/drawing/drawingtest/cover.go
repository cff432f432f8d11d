package drawingtest

import "bandwright/compiler/drawing"

// Covered is the share, from 0 to 1, of a sheet's drawing area that the rectangle around
// all that is drawn covers. The area is inside of the frame, without the title block.
func Covered(s *drawing.Sheet) float64 {
	bodies, leads, texts := things(s)
	all := append(append(bodies, leads...), texts...)
	for _, w := range s.Wires {
		all = append(all, thing{"", around(fine(w.From), fine(w.To), 0), -1})
	}
	r := all[0].box
	for _, x := range all {
		r.Min = drawing.Fine{X: min(r.Min.X, x.box.Min.X), Y: min(r.Min.Y, x.box.Min.Y)}
		r.Max = drawing.Fine{X: max(r.Max.X, x.box.Max.X), Y: max(r.Max.Y, x.box.Max.Y)}
	}
	frame, block := frames(s)
	block.Min = drawing.Fine{X: max(block.Min.X, r.Min.X), Y: max(block.Min.Y, r.Min.Y)}
	block.Max = drawing.Fine{X: min(block.Max.X, r.Max.X), Y: min(block.Max.Y, r.Max.Y)}
	title := 10 * drawing.TitleWidth * 10 * drawing.TitleHeight
	return float64(area(r)-area(block)) / float64(area(frame)-title)
}

// area of a box, 0 of what is none.
func area(b drawing.Box) int { return max(0, b.Max.X-b.Min.X) * max(0, b.Max.Y-b.Min.Y) }

// frames are a sheet's frame and its title block.
func frames(s *drawing.Sheet) (frame, block drawing.Box) {
	frame = drawing.Box{Min: drawing.Fine{X: 10 * drawing.Margin, Y: 10 * drawing.Margin},
		Max: drawing.Fine{X: 10 * (s.Size.X - drawing.Margin), Y: 10 * (s.Size.Y - drawing.Margin)}}
	block = drawing.Box{Min: drawing.Fine{X: frame.Max.X - 10*drawing.TitleWidth, Y: frame.Max.Y - 10*drawing.TitleHeight}, Max: frame.Max}
	return frame, block
}
