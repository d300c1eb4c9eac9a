package scale

import "math"

const (
	barMinLength = 24  // px; a shorter bar gives a scale that is off by a per cent and more
	barMinStep   = 20  // grey levels between the bar and what surrounds it
	barAspect    = 2.5 // least length by thickness
	edgeStride   = 4   // px between the samples that long level edges are looked for at
	edgeGapPX    = 6   // a speck that touches the bar may break its edge for so long
)

// levelEdge is a run of pixels of one row at which the picture grows lighter (sign 1) or darker (-1) from the row above
// to the one below.
type levelEdge struct{ y, x0, x1, sign int }

// levelEdges finds the long level edges in the order of their rows. Those that reach the picture's sides are left out:
// they end there only because the picture does.
func (p plane8) levelEdges() []levelEdge {
	var edges []levelEdge
	for y := 1; y+1 < p.h; y++ {
		up, down := p.v[(y-1)*p.w:y*p.w], p.v[(y+1)*p.w:(y+2)*p.w]
		start, sign := 0, 0
		for x := 2; x < p.w; x += edgeStride {
			s := 0
			if d := int(down[x]) - int(up[x]); d >= barMinStep {
				s = 1
			} else if d <= -barMinStep {
				s = -1
			}
			if s == sign {
				if s != 0 && x-start >= barMinLength-2*edgeStride {
					e := grown(up, down, levelEdge{y, start, x, sign})
					if e.x1-e.x0+1 >= barMinLength && e.x0 > 1 && e.x1 < p.w-2 {
						edges = append(edges, e)
					}
					sign = 0
					x += max(0, e.x1-x) / edgeStride * edgeStride
				}
				continue
			}
			start, sign = x, s
		}
	}
	return edges
}

// grown carries an edge on to both sides, over gaps.
func grown(up, down []uint8, e levelEdge) levelEdge {
	for x := e.x0; x >= 0 && e.x0-x <= edgeGapPX; x-- {
		if e.sign*(int(down[x])-int(up[x])) >= barMinStep {
			e.x0 = x
		}
	}
	for x := e.x1; x < len(up) && x-e.x1 <= edgeGapPX; x++ {
		if e.sign*(int(down[x])-int(up[x])) >= barMinStep {
			e.x1 = x
		}
	}
	return e
}

// bars finds all that looks like a drawn level bar: two level edges of opposite sign and equal ends, one above the
// other, and between them what stands every test of drawnBar.
func (p plane8) bars() []drawnBar {
	edges := p.levelEdges()
	var bars []drawnBar
	for i, top := range edges {
		length := top.x1 - top.x0 + 1
		highest := top.y + int(float64(length)/barAspect) + 3
		slack := max(3, min(24, length/5)) // one-sided ticks shorten one edge only
		for _, bottom := range edges[i+1:] {
			if bottom.y > highest {
				break
			}
			if bottom.sign == top.sign || absInt(bottom.x0-top.x0) > slack || absInt(bottom.x1-top.x1) > slack {
				continue
			}
			if !seen(bars, top, bottom) {
				if b, ok := p.measureBar(top, bottom); ok && !repeated(bars, b) {
					bars = append(bars, b)
				}
			}
			break
		}
	}
	return bars
}

// seen tells whether the edges are those of a bar that is found already: a soft edge is seen in more than one row.
func seen(bars []drawnBar, top, bottom levelEdge) bool {
	for _, b := range bars {
		y := float64(top.y+bottom.y) / 2
		if b.sign == float64(top.sign) && y >= b.top-1 && y <= b.bottom+1 && float64(top.x0) < b.right.at && float64(top.x1) > b.left.at {
			return true
		}
	}
	return false
}

func repeated(bars []drawnBar, b drawnBar) bool {
	for _, other := range bars {
		if b.sign == other.sign && b.top < other.bottom && other.top < b.bottom && b.left.at < other.right.at && other.left.at < b.right.at {
			return true
		}
	}
	return false
}

func absInt(v int) int { return max(v, -v) }

// median8 is the median of up to some hundred pixels of row y from x0 to x1.
func (p plane8) median8(y, x0, x1 int) float64 {
	var counts [256]int
	step := max(1, (x1-x0)/200)
	n := 0
	for x := x0; x <= x1; x += step {
		counts[p.v[y*p.w+x]]++
		n++
	}
	return medianOf(&counts, n)
}

// medianOf is the median of n values counted by grey level.
func medianOf(counts *[256]int, n int) float64 {
	seen := 0
	for v, c := range counts {
		seen += c
		if 2*seen > n {
			return float64(v)
		}
		if 2*seen == n {
			for next := v + 1; next < 256; next++ {
				if counts[next] > 0 {
					return float64(v+next) / 2
				}
			}
		}
	}
	return math.NaN()
}
