package likeness

import (
	"math"
	"slices"
)

// coarse is the side of the pictures by which turnings are told apart, leastCoarse the correlation that they must have for
// a second look.
const (
	coarse      = 24
	leastCoarse = 0.8
)

// What may be left of a block, in grey levels, is the root of noise² + (slack times the block's slopes in grey levels a pixel)²:
// noise and coding, and a pixel of the miniature that lies slack of its width aside. A copy that was cropped or turned by
// some degrees leaves more everywhere: what is left is then measured by its upper quartile over blocks that show anything
// (of which the variance is more than leastVariance).
const (
	noise         = 0.7
	slack         = 0.05
	leastVariance = 16.0
)

// difference says by how much two pictures differ in the block that differs most, in units of what may be left. It is
// infinite where they are no copies at first sight. block is the side of a block, px.
func difference(a, b grey, block int) float64 {
	best, way := -1.0, 0
	small := a.shrunk(coarse, coarse)
	other := b.shrunk(coarse, coarse)
	for i := range 8 {
		if c := correlation(small, other.turned(i)); c > best {
			best, way = c, i
		}
	}
	if best < leastCoarse {
		return math.Inf(1)
	}
	b = b.turned(way)
	return worstBlock(a, b, align(a, b), block)
}

// worstBlock compares block by block what both pictures show.
func worstBlock(a, b grey, w warp, block int) float64 {
	over, inside := b.laidOver(a, w)
	a, over = a.smooth(), over.smooth()
	lost := make([]bool, len(over.Pix))
	for i, v := range over.Pix {
		lost[i] = v >= burnt
	}
	over.toned(a, inside)
	var all []float64
	worst := 0.0
	for top := 0; top+block/2 < a.H; top += block {
		for left := 0; left+block/2 < a.W; left += block {
			var m moments
			slopes := 0.0
			for y := max(1, top); y < min(top+block, a.H-1); y++ {
				for x := max(1, left); x < min(left+block, a.W-1); x++ {
					i := y*a.W + x
					if inside[i] && inside[i-1] && inside[i+1] && inside[i-a.W] && inside[i+a.W] && a.Pix[i] < burnt && !lost[i] {
						m.add(float64(a.Pix[i]), float64(over.Pix[i]))
						dx, dy := float64(a.Pix[i+1]-a.Pix[i-1])/2, float64(a.Pix[i+a.W]-a.Pix[i-a.W])/2
						slopes += dx*dx + dy*dy
					}
				}
			}
			if m.n < float64(block*block)/2 {
				continue
			}
			aa, bb, _ := m.variances()
			e := m.left(slopes / m.n)
			if max(aa, bb) > leastVariance {
				all = append(all, e)
			}
			worst = max(worst, e)
		}
	}
	slices.Sort(all)
	if len(all) == 0 {
		return math.Inf(1) // nothing to know it by
	}
	return worst / max(1, all[len(all)*3/4])
}

// laidOver gives the picture as a shows it, by the warp, and where it shows anything (Catmull and Rom's cubic).
func (g grey) laidOver(a grey, w warp) (grey, []bool) {
	out, inside := newGrey(a.W, a.H), make([]bool, a.W*a.H)
	cubic := func(t float64) [4]float64 {
		return [4]float64{((-t+2)*t - 1) * t / 2, ((3*t-5)*t*t + 2) / 2, ((-3*t+4)*t + 1) * t / 2, (t - 1) * t * t / 2}
	}
	for y := range a.H {
		for x := range a.W {
			u, v := w.at((float64(x)+0.5)/float64(a.W)*2-1, (float64(y)+0.5)/float64(a.H)*2-1)
			px, py := (u+1)/2*float64(g.W)-0.5, (v+1)/2*float64(g.H)-0.5
			if !(px >= -0.5 && py >= -0.5 && px <= float64(g.W)-0.5 && py <= float64(g.H)-0.5) {
				continue
			}
			ix, iy := int(math.Floor(px)), int(math.Floor(py))
			cx, cy := cubic(px-float64(ix)), cubic(py-float64(iy))
			sum := 0.0
			for j, wy := range cy {
				row := min(max(iy-1+j, 0), g.H-1) * g.W
				for i, wx := range cx {
					sum += wy * wx * float64(g.Pix[row+min(max(ix-1+i, 0), g.W-1)])
				}
			}
			out.Pix[y*a.W+x], inside[y*a.W+x] = float32(sum), true
		}
	}
	return out, inside
}

// burnt is the tone from which on a pixel may be a part of what was burnt out, in the picture or when it was made brighter.
const burnt = 244

// toned gives the picture the tones of a, by the cubic of least squares: editors change tones along curves.
func (g grey) toned(a grey, inside []bool) {
	const n = 4
	var m [8][9]float64
	for i := range m {
		m[i][i] = 1
	}
	for i := range n {
		m[i][i] = 0
	}
	for i, v := range g.Pix {
		if !inside[i] || v >= burnt || a.Pix[i] >= burnt {
			continue
		}
		t := float64(v)/128 - 1
		row := [n + 1]float64{1, t, t * t, t * t * t, float64(a.Pix[i])}
		for j := range n {
			for k := j; k < n; k++ {
				m[j][k] += row[j] * row[k]
			}
			m[j][8] += row[j] * row[n]
		}
	}
	c, solved := solve(&m)
	if !solved {
		return
	}
	for i, v := range g.Pix {
		t := float64(v)/128 - 1
		g.Pix[i] = float32(c[0] + t*(c[1]+t*(c[2]+t*c[3])))
	}
}

// smooth averages each pixel with its neighbours, weighted 1, 2, 1 along both axes.
func (g grey) smooth() grey {
	rows, out := newGrey(g.W, g.H), newGrey(g.W, g.H)
	for y := range g.H {
		for x := range g.W {
			i := y * g.W
			rows.Pix[i+x] = (g.Pix[i+max(x-1, 0)] + 2*g.Pix[i+x] + g.Pix[i+min(x+1, g.W-1)]) / 4
		}
	}
	for y := range g.H {
		up, down := max(y-1, 0)*g.W, min(y+1, g.H-1)*g.W
		for x := range g.W {
			out.Pix[y*g.W+x] = (rows.Pix[up+x] + 2*rows.Pix[y*g.W+x] + rows.Pix[down+x]) / 4
		}
	}
	return out
}

// moments add up pairs of tones.
type moments struct{ n, a, b, aa, bb, ab float64 }

func (m *moments) add(a, b float64) {
	m.n++
	m.a += a
	m.b += b
	m.aa += a * a
	m.bb += b * b
	m.ab += a * b
}

// variances gives both variances and the covariance.
func (m moments) variances() (aa, bb, ab float64) {
	ma, mb := m.a/m.n, m.b/m.n
	return max(0, m.aa/m.n-ma*ma), max(0, m.bb/m.n-mb*mb), m.ab/m.n - ma*mb
}

func (m moments) correlation() float64 {
	aa, bb, ab := m.variances()
	if aa <= 0 || bb <= 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// left is what a straight line from one's tones to the other's leaves, the worse of both ways, in units of what may be left.
func (m moments) left(slope float64) float64 {
	aa, bb, ab := m.variances()
	return max(leftOf(aa, bb, ab, slope), leftOf(bb, aa, ab, slope))
}

func leftOf(of, by, both, slope float64) float64 {
	rest := of
	if by > 0 && both > 0 {
		rest = max(0, of-both*both/by)
	}
	return math.Sqrt(rest / (noise*noise + slack*slack*slope))
}
