package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// straightEdge is an edge roughly square to the axis that is looked for near where a region ends.
type straightEdge struct {
	at       float64 // where the region ends, mm
	from, to float64 // the profile's own limits, mm
	before   float64 // mm to which the stretch before is fitted, and the stretch after
	after    float64
	sd       float64 // how well the region's end is known, mm
	whole    bool    // the edge makes most of the change from one end of the profile to the other
}

const (
	edgeSearchMM = 0.45 // how far from a region's end an edge is looked for
	edgeSDMM     = 0.2
	edgePadMM    = 0.3
)

// find looks at the scan lines in the bands together: their percentiles at each place along x, of ln brightness, in which a
// single strand, glint or spot leaves no trace. The border that stands out most there, weighed by its distance from the
// region's end and, if it must be the whole change from metal to what lies beyond, by its share in that, is then
// settled in each line, in brightness as it is: in its logarithm blur moves a bright thing's edge outwards.
func (e straightEdge) find(b *bench, bands ...band) (crossEdge, bool) {
	x0, x1 := e.limits()
	var lines, plain [][][]float64
	var ys []float64
	for _, r := range bands {
		for y := r.lo; y+scanStepMM <= r.hi+1e-9; y += scanStepMM {
			l := b.along(x0, x1, y, y+scanStepMM)
			plain = append(plain, l)
			lines = append(lines, logarithm(l))
			ys = append(ys, y+scanStepMM/2)
		}
	}
	if len(lines) < 4 || float64(len(lines[0][0])) < e.reach(b).Before+e.reach(b).After+4 {
		return crossEdge{}, false
	}
	pos, ok := e.best(b, percentiles(lines, 25, 50, 75), x0)
	if !ok {
		return crossEdge{}, false
	}
	var c crossEdge
	reach := e.reach(b)
	pos = settled(percentiles(plain, 25, 50, 75), pos, reach, b.blurPX)
	for k, l := range plain {
		if p := subpixel.SettleBorder(l, pos, reach, b.blurPX); p.Gain > 0.3 && math.Abs(p.Pos-pos) < max(0.15*b.ppm, 1.9) {
			c.points = append(c.points, subpixel.Point{X: x0 + p.Pos/b.ppm, Y: ys[k]})
		}
	}
	if len(c.points) < max(3, len(lines)/3) {
		return crossEdge{}, false
	}
	c.settle()
	return c, true
}

// limits are from where to where the picture is looked at.
func (e straightEdge) limits() (x0, x1 float64) {
	return max(e.from, e.at-edgeSearchMM-e.before-edgePadMM), min(e.to, e.at+edgeSearchMM+e.after+edgePadMM)
}

// reach is the stretches' length in samples: two lines and a place need more than three on either side.
func (e straightEdge) reach(b *bench) subpixel.Reach {
	const least = 4.5
	return subpixel.Reach{Before: max(e.before*b.ppm, least), After: max(e.after*b.ppm, least)}
}

// best is the border (samples) of the profile from x0 on with the largest weighted amplitude, settled.
func (e straightEdge) best(b *bench, p [][]float64, x0 float64) (pos float64, ok bool) {
	reach := e.reach(b)
	pad := max(1, int(edgePadMM*b.ppm))
	n := len(p[0])
	whole := make([]float64, len(p))
	for c, v := range p {
		whole[c] = meanOf(v[n-pad:]) - meanOf(v[:pad])
	}
	best := 0.0
	for at := reach.Before + 1; at < float64(n-2)-reach.After; at += 0.5 {
		s, _ := subpixel.BorderStrength(p, at, reach, b.blurPX)
		if s <= 0 {
			continue
		}
		a := math.Sqrt(s) * math.Exp(-0.5*sq((x0+at/b.ppm-e.at)/e.sd))
		if e.whole {
			a *= max(0.1, shareOf(b.stepAt(p, at), whole))
		}
		if a > best {
			best, pos, ok = a, at, true
		}
	}
	return settled(p, pos, reach, b.blurPX), ok
}

// settled settles a border until it stays: an amplitude's peak is broad.
func settled(p [][]float64, pos float64, reach subpixel.Reach, blurPX float64) float64 {
	for range 8 {
		q := subpixel.SettleBorder(p, pos, reach, blurPX).Pos
		moved := math.Abs(q - pos)
		if pos = q; moved < 0.2 {
			break
		}
	}
	return pos
}

// shareOf is how much of a step goes along another one, at most all of it.
func shareOf(step, whole []float64) float64 {
	var dot, square float64
	for c := range step {
		dot, square = dot+step[c]*whole[c], square+whole[c]*whole[c]
	}
	if square == 0 {
		return 1
	}
	return min(1, dot/square)
}

// stepAt is, for each channel, how much larger a profile is after a place than before it.
func (b *bench) stepAt(p [][]float64, at float64) []float64 {
	gap, reach := b.blurPX, 0.12*b.ppm
	step := make([]float64, len(p))
	for c, v := range p {
		n := len(v) - 1
		i0, j0 := max(0, int(at-gap-reach)), min(n, int(math.Ceil(at+gap)))
		i1, j1 := max(i0, int(at-gap)), min(n, int(math.Ceil(at+gap+reach)))
		step[c] = meanOf(v[j0:j1+1]) - meanOf(v[i0:i1+1])
	}
	return step
}

// logarithm is the logarithm of brightness: in it a dark thing's edge counts like a bright one's.
func logarithm(p [][]float64) [][]float64 {
	out := make([][]float64, len(p))
	for c, v := range p {
		out[c] = make([]float64, len(v))
		for i := range v {
			out[c][i] = math.Log(v[i] + part.LogFloor)
		}
	}
	return out
}

// percentiles are the percentiles over the lines at each sample, three channels for each percentile.
func percentiles(lines [][][]float64, shares ...float64) (out [][]float64) {
	v := make([]float64, len(lines))
	for _, share := range shares {
		for c := range lines[0] {
			p := make([]float64, len(lines[0][c]))
			for i := range p {
				for k := range lines {
					v[k] = lines[k][c][i]
				}
				p[i] = subpixel.Percentile(slices.Clone(v), share)
			}
			out = append(out, p)
		}
	}
	return out
}
