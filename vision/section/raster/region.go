package raster

// Largest keeps the largest piece of a mask; pieces hang together by their sides.
func Largest(m Mask) Mask {
	label, sizes := Pieces(m)
	best := 0
	for k := range sizes {
		if k > 0 && (best == 0 || sizes[k] > sizes[best]) {
			best = k
		}
	}
	out := NewMask(m.W, m.H)
	if best == 0 {
		return out
	}
	for i, l := range label {
		out.Pix[i] = int(l) == best
	}
	return out
}

// Pieces numbers the pieces of a mask from 1; 0 is outside. sizes[k] is the number of pixels of piece k.
func Pieces(m Mask) (label []int32, sizes []int) {
	label = make([]int32, len(m.Pix))
	sizes = []int{0}
	var stack []int
	for start, in := range m.Pix {
		if !in || label[start] != 0 {
			continue
		}
		k := int32(len(sizes))
		label[start] = k
		stack = append(stack[:0], start)
		n := 0
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			n++
			for _, j := range m.beside(i) {
				if j >= 0 && m.Pix[j] && label[j] == 0 {
					label[j] = k
					stack = append(stack, j)
				}
			}
		}
		sizes = append(sizes, n)
	}
	return label, sizes
}

// beside gives the four neighbours of a pixel, -1 where there is none.
func (m Mask) beside(i int) [4]int {
	n := [4]int{i - 1, i + 1, i - m.W, i + m.W}
	switch x := i % m.W; x {
	case 0:
		n[0] = -1
	case m.W - 1:
		n[1] = -1
	}
	if m.W == 1 {
		n[0], n[1] = -1, -1
	}
	if n[3] >= len(m.Pix) {
		n[3] = -1
	}
	if n[2] < 0 {
		n[2] = -1
	}
	return n
}

// FillHoles closes every hole of a mask: what cannot be reached from the picture's rim outside the mask.
func FillHoles(m Mask) Mask {
	out := NewMask(m.W, m.H)
	for i := range out.Pix {
		out.Pix[i] = true
	}
	var stack []int
	visit := func(i int) {
		if i >= 0 && !m.Pix[i] && out.Pix[i] {
			out.Pix[i] = false
			stack = append(stack, i)
		}
	}
	for x := range m.W {
		visit(x)
		visit((m.H-1)*m.W + x)
	}
	for y := range m.H {
		visit(y * m.W)
		visit(y*m.W + m.W - 1)
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for _, j := range m.beside(i) {
			visit(j)
		}
	}
	return out
}

// Border follows the outer border of the mask's piece that holds its first pixel (row by row), as a closed polygon
// along the pixels' edges, so that the polygon's area is the number of pixels where the piece has no holes. In a
// picture (y down) the piece lies to the right of the way.
func Border(m Mask) []Point {
	for i, in := range m.Pix {
		if in {
			return Walk(m.W, m.H, i, m.at)
		}
	}
	return nil
}

// LongBorder is the outer border of the first piece whose border has at least that many points; nil where there is
// none. Smaller pieces that come before it are taken out of the mask.
func LongBorder(m Mask, least int) []Point {
	var stack []int
	for i := range m.Pix {
		if !m.Pix[i] {
			continue
		}
		if b := Walk(m.W, m.H, i, m.at); len(b) >= least {
			return b
		}
		m.Pix[i] = false
		for stack = append(stack[:0], i); len(stack) > 0; {
			k := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			for _, j := range m.beside(k) {
				if j >= 0 && m.Pix[j] {
					m.Pix[j] = false
					stack = append(stack, j)
				}
			}
		}
	}
	return nil
}

func (m Mask) at(i int) bool { return m.Pix[i] }

// Walk goes round the outside of a region of a picture of w x h pixels as Border does. It starts at the region's first
// pixel: nothing of it lies above that one or, in its row, to its left.
func Walk(w, h, start int, in func(i int) bool) []Point {
	at := func(x, y int) bool { return x >= 0 && y >= 0 && x < w && y < h && in(y*w+x) }
	// Walk on the corners between pixels; corner (x, y) is the upper left one of pixel (x, y). Directions: right, down,
	// left, up; the piece is on the right hand.
	dx, dy := [4]int{1, 0, -1, 0}, [4]int{0, 1, 0, -1}
	x, y, d := start%w, start/w, 0
	sx, sy := x, y
	var out []Point
	for {
		out = append(out, Point{float64(x) - 0.5, float64(y) - 0.5})
		x, y = x+dx[d], y+dy[d]
		if x == sx && y == sy {
			return out
		}
		// The two pixels ahead of the corner, left and right of the way.
		var lx, ly, rx, ry int
		switch d {
		case 0:
			lx, ly, rx, ry = x, y-1, x, y
		case 1:
			lx, ly, rx, ry = x, y, x-1, y
		case 2:
			lx, ly, rx, ry = x-1, y, x-1, y-1
		default:
			lx, ly, rx, ry = x-1, y-1, x, y-1
		}
		switch {
		case !at(rx, ry): // nothing ahead on the right: turn right
			d = (d + 1) % 4
		case at(lx, ly): // metal on both sides: turn left
			d = (d + 3) % 4
		}
	}
}

// Borders gives the outer border of every piece of a mask, as Border does.
func Borders(m Mask) [][]Point {
	label, sizes := Pieces(m)
	var out [][]Point
	for k := 1; k < len(sizes); k++ {
		one := NewMask(m.W, m.H)
		for i, l := range label {
			one.Pix[i] = int(l) == k
		}
		out = append(out, Border(one))
	}
	return out
}

// Spread sets those of the listed pixels to a value that have a neighbour of that value: by their sides, or by their
// corners too. Pixels on the picture's rim must not be listed. Taking turns between the two makes the spread nearly
// round.
func (m Mask) Spread(pixels []int, value, corners bool) {
	steps := []int{-1, 1, -m.W, m.W, -m.W - 1, -m.W + 1, m.W - 1, m.W + 1}
	if !corners {
		steps = steps[:4]
	}
	var change []int
	for _, i := range pixels {
		if m.Pix[i] == value {
			continue
		}
		for _, d := range steps {
			if m.Pix[i+d] == value {
				change = append(change, i)
				break
			}
		}
	}
	for _, i := range change {
		m.Pix[i] = value
	}
}
