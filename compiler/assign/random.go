package assign

// random is a sequence of numbers that is the same on every run: splitmix64
// (Steele, Lea, Flood, OOPSLA 2014, figure 17).
type random uint64

// below is the next number, from 0 to n-1, n ≥ 1 and small: the bias of the
// remainder does not matter here.
func (r *random) below(n int) int {
	*r += 0x9e3779b97f4a7c15
	z := uint64(*r)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return int((z ^ z>>31) % uint64(n))
}
