package section

import (
	"math"

	"crimprule/vision/section/raster"
	"crimprule/vision/subpixel"
)

// Where a polished section's metal ends, its edge is rounded and etched: a dark rim, a few micrometres wide, that
// belongs to the metal. Blur runs it together with the border, so that the steepest fall of brightness lies a little
// inside. What follows takes that off, from the mean profile over the whole border.

const (
	rimReach = 9.   // px to both sides: the part of the profile that the model is held against
	rimFine  = 0.1  // px: the model's own steps
	mostRim  = 0.75 // of the metal's contrast
	mostHalo = 0.35 // the same, in the resin
	haloPX   = 1.5  // length of the halo that a sharpened picture or a meniscus leaves in the resin
	// plainer is what rim and halo cost, as the mean square error that a strength of 1 must save: an edge without either
	// is told as such.
	plainer  = 0.0001
	uRimPX   = 0.3 // standard uncertainty of the corrected place: what the model leaves on borders of known place
	uRimMM   = 0.0006
	uInnerPX = 0.35 // the same for the cavity's border
	uInnerMM = 0.0015
	// innerShare is how far the border lies from the steepest rise towards the darkest place; half-way leaves cavities of
	// known area 0.3 per cent too large.
	innerShare = 0.6
	leastDip   = 0.02  // of the sleeve's brightness: a shallower line beside the border is none
	innerReach = 0.010 // mm: the darkest place of the line lies no further from the steepest rise than that
)

// profile is the median profile across a border, from inside to outside: value i at offset (px, outwards) at[i].
func (b band) profile() (at, value []float64) {
	for c := range b.cols {
		v := make([]float64, len(b.line))
		for r := range b.line {
			v[r] = b.value[r*b.cols+c]
		}
		at = append(at, b.offset(float64(c)))
		value = append(value, subpixel.Percentile(v, 50))
	}
	return at, value
}

// rimOffset is how far outside the steepest fall the metal ends, px: least squares of a blurred step with a rim that
// darkens the metal exponentially towards its end, and a halo, dark or bright, in the resin, free in strength, over all
// places of the step and widths of the blur. Depth is the most that the rim can be darker, as a multiple of the step (on
// light resin a rim is darker than the resin). 0 where no such model fits.
func rimOffset(at, value []float64, depth float64) float64 {
	best, offset := math.Inf(1), 0.
	for sigma := 0.4; sigma < 4; sigma *= 1.08 {
		step := blurred(sigma, func(x float64) float64 {
			if x < 0 {
				return 1
			}
			return 0
		})
		halo := blurred(sigma, func(x float64) float64 {
			if x < 0 {
				return 0
			}
			return math.Exp(-x / haloPX)
		})
		for _, length := range []float64{0.6, 1, 1.7, 2.8} {
			rim := blurred(sigma, func(x float64) float64 {
				if x < 0 {
					return math.Exp(x / length)
				}
				return 0
			})
			for e := -1.; e <= 4; e += 0.1 {
				if cost := rimCost(at, value, e, depth, step, rim, halo); cost < best {
					best, offset = cost, e
				}
			}
		}
	}
	return offset
}

// blurred samples a function of the offset, smoothed with a Gaussian, every rimFine px over twice the reach.
func blurred(sigma float64, f func(x float64) float64) []float64 {
	n := int(2*rimReach/rimFine) + 1
	k := kernel(sigma / rimFine)
	fine := make([]float64, n+2*len(k))
	for i := range fine {
		// Half-way samples at the step keep its middle at 0.
		x := (float64(i-len(k)) - float64(n-1)/2) * rimFine
		fine[i] = (f(x-rimFine/4) + f(x+rimFine/4)) / 2
	}
	out := make([]float64, n)
	for i := range out {
		for j := -len(k) + 1; j < len(k); j++ {
			out[i] += k[max(j, -j)] * fine[i+len(k)+j]
		}
	}
	return out
}

// rimCost is the sum of squares that the best mixture of step, rim, halo and a constant leaves; infinite where it is not
// one of metal.
func rimCost(at, value []float64, e, depth float64, step, rim, halo []float64) float64 {
	var a [groundTerms][groundTerms]float64
	var b [groundTerms]float64
	n := 0.
	sum := 0.
	for i, x := range at {
		k := int(math.Round((x - e + rimReach) / rimFine))
		if x < -rimReach || x > rimReach*0.7 || k < 0 || k >= len(step) {
			continue
		}
		row := [groundTerms]float64{step[k], rim[k], halo[k], 1}
		for p := range 4 {
			for q := range 4 {
				a[p][q] += row[p] * row[q]
			}
			b[p] += row[p] * value[i]
		}
		sum += value[i] * value[i]
		n++
	}
	a[4][4], a[5][5] = 1, 1
	for p := range 4 {
		a[p][p] += 1e-9
	}
	a[1][1] += plainer * n
	a[2][2] += plainer * n
	c, ok := solve6(a, b)
	if !ok || n < 10 || c[0] <= 0 || c[1] > 0 || -c[1] > depth*c[0] || math.Abs(c[2]) > mostHalo*depth/mostRim*c[0] {
		return math.Inf(1)
	}
	return (sum - dot(c, b)) / n
}

// innerOffset is how far the cavity's border lies from the steepest rise towards the sleeve, px outwards (so negative):
// the dark line between strand and sleeve is the strand's groove and the sleeve's own rounded edge, about equal parts,
// so the border is about half-way between the darkest place and the steepest rise. Without such a line it is 0.
func innerOffset(at, value []float64, mmPerPX float64) float64 {
	reach := math.Max(innerReach/mmPerPX, 2)
	var strand []float64
	low, where := math.Inf(1), 0.
	for i, x := range at {
		if x < -reach-1 {
			strand = append(strand, value[i])
		}
		if x >= -reach && x <= 0 && value[i] < low {
			low, where = value[i], x
		}
	}
	if len(strand) == 0 || subpixel.Percentile(strand, 50)-low < leastDip || where == -reach {
		return 0
	}
	return where * innerShare
}

// shifted moves a closed line outwards.
func shifted(line []raster.Point, by float64) []raster.Point {
	n := raster.Normals(line, 4)
	out := make([]raster.Point, len(line))
	for i, p := range line {
		out[i] = raster.Point{X: p.X + by*n[i].X, Y: p.Y + by*n[i].Y}
	}
	return out
}
