package scale

import "math"

// boxRound finds the box that a bar was drawn into, filled or letting the picture shine through: a rectangle of which
// each side is a straight step in brightness, or the picture's rim (a strip along a rim has one such step). Going outwards
// from the bar, the first line along which nearly all pixels step the same way is the side.
func (p plane8) boxRound(b *drawnBar, body box) (box, bool) {
	around := body
	xs, ys := body, body
	steps := 0
	rows := func(y, out int) bool { return p.stepsAcross(xs.x0, xs.x1, y, out, false) }
	columns := func(x, out int) bool { return p.stepsAcross(ys.y0, ys.y1, x, out, true) }
	find := func(from, out, limit, rim int, at func(int, int) bool) (int, bool) {
		for k := 3; k <= limit; k++ {
			v := from + out*k
			if out*(rim-v) < 3 {
				return rim, true
			}
			if at(v, out) {
				steps++
				return v + out, true
			}
		}
		return 0, false
	}
	high, wide := max(p.h/4, body.w()), max(p.w/3, 2*body.w())
	var ok [4]bool
	around.y0, ok[0] = find(body.y0, -1, high, 0, rows)
	around.y1, ok[1] = find(body.y1, 1, high, p.h-1, rows)
	if !ok[0] || !ok[1] || steps == 0 {
		return box{}, false
	}
	ys = box{0, min(around.y0+4, body.y0), 0, max(around.y1-4, body.y1)}
	strip := steps == 1
	if strip { // along a rim: the step must go through the whole picture
		y := around.y0
		out := -1
		if y == 0 {
			y, out = around.y1, 1
		}
		if p.stepsAcross(0, p.w-1, y-out, out, false) {
			return box{0, around.y0, p.w - 1, around.y1}, true
		}
	}
	around.x0, ok[2] = find(body.x0, -1, wide, 0, columns)
	around.x1, ok[3] = find(body.x1, 1, wide, p.w-1, columns)
	return around, ok[2] && ok[3] && steps >= 2+absInt(btoi(!strip))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// stepsAcross tells whether nine tenths of a line's pixels, from a to b along row (or column) v, step the same way
// from its inner to its outer side (out is the direction outwards).
func (p plane8) stepsAcross(a, b, v, out int, column bool) bool {
	const least, share = 4, 0.9
	darker, lighter, n := 0, 0, 0
	stride := max(1, (b-a)/256)
	for t := a; t <= b; t += stride {
		inner, outer := (v-out)*p.w+t, (v+2*out)*p.w+t
		if column {
			inner, outer = t*p.w+v-out, t*p.w+v+2*out
		}
		n++
		switch d := int(p.v[outer]) - int(p.v[inner]); {
		case d >= least:
			lighter++
		case d <= -least:
			darker++
		}
	}
	return float64(max(lighter, darker)) >= math.Max(share*float64(n), 1)
}
