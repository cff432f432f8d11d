package language

// Filters lists every filter of the spec: the common ones, then way by way its
// own and its sides of the crossovers.
func (s *Spec) Filters() []Filter {
	out := append([]Filter{}, s.Common...)
	for i, w := range s.Ways {
		out = append(out, w.Filters...)
		for _, x := range s.Crossovers {
			switch i {
			case x.Lower:
				out = append(out, x.Low)
			case x.Upper:
				out = append(out, x.High)
			}
		}
	}
	return out
}
