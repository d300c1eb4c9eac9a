package scale

import "math"

// boxRound finds the box that a bar was drawn into, filled or letting the picture shine through: a rectangle of which
// each side is a straight step in brightness, or the picture's rim (a strip along a rim has one such step). Going outwards
// from the bar, the first line along which nearly all pixels step the same way is the side.
func (p plane8) boxRound(b *drawnBar, body box) (box, bool) {
	around := body
	xs, ys := body, body
	steps := 0
	least := int(math.Max(4, 0.03*b.contrast)) // JPEG leaves fainter steps round the bar and the text
	rows := func(y, out int) (bool, int) { return p.stepsAcross(xs.x0, xs.x1, y, out, least, false) }
	columns := func(x, out int) (bool, int) { return p.stepsAcross(ys.y0, ys.y1, x, out, least, true) }
	find := func(from, out, limit, rim int, at func(int, int) (bool, int)) (int, bool) {
		for k := 5; k <= limit; k++ {
			v := from + out*k
			if out*(rim-v) < 5 {
				return rim, true
			}
			if step, _ := at(v, out); step {
				steps++
				best, height := v, 0
				for w := range 5 { // the side is where the step is highest
					if step, h := at(v+out*w, out); step && h > height {
						best, height = v+out*w, h
					}
				}
				return best, true
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
	needed := 3 // sides that are steps; one that lies on a rim is let off
	if steps == 1 {
		needed = 2
		// A strip along a rim: its step goes through the whole picture.
		y := around.y0
		out := -1
		if y == 0 {
			y, out = around.y1, 1
		}
		if through, _ := p.stepsAcross(0, p.w-1, y, out, least, false); through {
			return box{0, around.y0, p.w - 1, around.y1}, true
		}
	}
	around.x0, ok[2] = find(body.x0, -1, wide, 0, columns)
	around.x1, ok[3] = find(body.x1, 1, wide, p.w-1, columns)
	return around, ok[2] && ok[3] && steps >= needed
}

// stepsAcross tells whether nine tenths of a line's places, from a to b along row (or column) v, step the same way, by
// at least so many grey levels, from its inner to its outer side (out is the direction outwards). Each side is the mean
// of three pixels, which evens out JPEG's ripples. It gives the sum of the steps too.
func (p plane8) stepsAcross(a, b, v, out, least int, column bool) (bool, int) {
	const share = 0.9
	along, across, start, rim := 1, p.w*out, v*p.w, p.h
	if column {
		along, across, start, rim = p.w, out, v, p.w
	}
	if first, last := v-3*out, v+4*out; min(first, last) < 0 || max(first, last) >= rim {
		return false, 0
	}
	darker, lighter, n, sum := 0, 0, 0, 0
	stride := max(1, (b-a)/256)
	for t := a; t <= b; t += stride {
		o := start + t*along
		inner := int(p.v[o-across]) + int(p.v[o-2*across]) + int(p.v[o-3*across])
		outer := int(p.v[o+2*across]) + int(p.v[o+3*across]) + int(p.v[o+4*across])
		n++
		sum += outer - inner
		switch d := outer - inner; {
		case d >= 3*least:
			lighter++
		case d <= -3*least:
			darker++
		}
	}
	return float64(max(lighter, darker)) >= math.Max(share*float64(n), 1), absInt(sum)
}
