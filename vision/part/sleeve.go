package part

import (
	"math"
	"sort"
)

// sleeveFit is a sleeve found in a strip: its axis as a line y = AxisY + tan(Turn)·x, its ends along x, how well columns between
// the ends resemble each other, and the mean column there.
type sleeveFit struct {
	AxisY, Turn, RearX, FrontX float64
	Likeness                   float64 // median correlation of single columns with the mean column, -1..1
	Depth                      float64 // of the seam's groove, ln of brightness
	Calm                       float64 // detail across the insulation over detail across the sleeve: small for insulation
}

// The sleeve is the one stretch of the part that looks the same all along the axis: two humps with the seam between
// them. So its axis is the direction in which averaging along x loses the least detail across (projection profile, as in
// document skew estimation, Postl 1986), and its ends are where columns stop resembling the mean column.
const (
	profileFromMM, profileToMM = 3.0, 5.4 // from the cut end: inside any sleeve whose gap is below 3 mm
	turnMaxDeg, turnStepDeg    = 8.0, 0.5
	sleeveMinMM, sleeveMaxMM   = 4.0, 11.0
	gapMaxMM                   = 4.0
)

// logBrightness is the strip's mean channel as ln(value + LogFloor).
func logBrightness(s *Strip) Plane {
	p := NewPlane(s.Chan[0].W, s.Chan[0].H)
	for i := range p.Pix {
		v := (s.Chan[0].Pix[i] + s.Chan[1].Pix[i] + s.Chan[2].Pix[i]) / 3
		p.Pix[i] = float32(math.Log(float64(v) + LogFloor))
	}
	return p
}

// column averages the plane along lines of slope tan(turn) over x0..x1 (mm) and gives the mean brightness at
// y = -half..half about the line through (0, y0), at the strip's resolution.
func column(s *Strip, p Plane, x0, x1, y0, turn, half float64) []float64 {
	n := int(2*half*s.PPM) + 1
	mean := make([]float64, n)
	k := math.Tan(turn)
	cols := 0
	for c := int(s.Col(x0)); c <= int(s.Col(x1)); c++ {
		if c < 0 || c >= p.W {
			continue
		}
		shift := y0 + k*s.X(float64(c))
		for i := range n {
			y := shift - half + float64(i)/s.PPM
			r := s.Row(y)
			mean[i] += float64(p.At(float64(c), r))
		}
		cols++
	}
	for i := range mean {
		mean[i] /= max(1, float64(cols))
	}
	return mean
}

// detail is the mean square slope of a profile: what averaging along the wrong direction loses.
func detail(v []float64) float64 {
	sum := 0.0
	for i := 1; i+1 < len(v); i++ {
		d := (v[i+1] - v[i-1]) / 2
		sum += d * d
	}
	return sum / float64(len(v))
}

// findAxis looks for the sleeve's axis beyond the cut end at x = 0 of the strip; d is the wire's width. The strip needs to
// reach no farther than profileToMM. The ends are left open.
func findAxis(s *Strip, d float64) sleeveFit {
	p := logBrightness(s)
	half := 0.42 * d
	best, fit := -1.0, sleeveFit{}
	for a := -turnMaxDeg; a <= turnMaxDeg; a += turnStepDeg {
		t := a * math.Pi / 180
		if e := detail(column(s, p, profileFromMM, profileToMM, 0, t, half)); e > best {
			best, fit.Turn = e, t
		}
	}
	wire := detail(column(s, p, -1.8, -0.4, 0, 0, 0.36*d))
	fit.Calm = math.Sqrt(wire / (best + 1e-9))
	template := column(s, p, profileFromMM, profileToMM, 0, fit.Turn, half)
	fit.AxisY, fit.Depth = valley(template, s.PPM, half)
	return fit
}

// findEnds completes a fit: where the sleeve ends, and how much its columns resemble each other.
func findEnds(s *Strip, fit sleeveFit, d float64) sleeveFit {
	fit.RearX, fit.FrontX, fit.Likeness = ends(s, logBrightness(s), fit, 0.3*d)
	return fit
}

// valley finds the seam in the mean column: the deepest narrow dark groove. Its depth at y counts against the brightness
// seamSideMM to either side, whichever is darker, so that a flank of a hump is none.
func valley(v []float64, ppm, half float64) (y, depth float64) {
	side := int(seamSideMM*ppm + 0.5)
	best, at := -1.0, 0
	for i := side; i+side < len(v); i++ {
		y := math.Abs(float64(i)/ppm - half)
		depth := min(v[i-side], v[i+side]) - v[i]
		depth *= 1 - 0.5*y/half // a seam far from the middle needs to be clearer
		if depth > best {
			best, at = depth, i
		}
	}
	return float64(at)/ppm - half, best
}

const seamSideMM = 0.3

// ends tells where columns stop resembling the mean column (normalised cross-correlation over |y - seam| < reach), as
// the score how well they do between.
func ends(s *Strip, p Plane, fit sleeveFit, reach float64) (rear, front, score float64) {
	template := centred(column(s, p, profileFromMM, profileToMM, fit.AxisY, fit.Turn, reach))
	alike := func(x float64) float64 {
		v := centred(column(s, p, x-0.06, x+0.06, fit.AxisY, fit.Turn, reach))
		return correlation(v, template)
	}
	var inside []float64
	for x := profileFromMM; x <= profileToMM; x += 0.1 {
		inside = append(inside, alike(x))
	}
	sort.Float64s(inside)
	score = inside[len(inside)/2]
	low := score / 2
	rear, front = profileFromMM, profileToMM
	for below, x := 0, profileFromMM; x > -1 && below < 3; x -= 0.1 {
		if alike(x) > low {
			rear, below = x, 0
		} else {
			below++
		}
	}
	for below, x := 0, profileToMM; x < profileFromMM+sleeveMaxMM && below < 3; x += 0.1 {
		if alike(x) > low {
			front, below = x, 0
		} else {
			below++
		}
	}
	return rear, front, score
}

// centred takes the mean away.
func centred(v []float64) []float64 {
	mean := 0.0
	for _, x := range v {
		mean += x
	}
	mean /= float64(len(v))
	for i := range v {
		v[i] -= mean
	}
	return v
}

// correlation is the normalised cross-correlation of two centred vectors; 0 where either is flat.
func correlation(a, b []float64) float64 {
	var ab, aa, bb float64
	for i := range a {
		ab += a[i] * b[i]
		aa += a[i] * a[i]
		bb += b[i] * b[i]
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}
