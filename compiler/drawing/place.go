package drawing

// turned is a point of a shape after mirroring left and right, then so many quarter
// turns clockwise (y points down).
func turned(f Fine, turn int, mirror bool) Fine {
	if mirror {
		f.X = -f.X
	}
	for range turn {
		f.X, f.Y = -f.Y, f.X
	}
	return f
}
