package scale

import (
	"math"
	"slices"

	"crimprule/vision/subpixel"
)

// A steel rule. Common practice, no source.
const (
	ruleThickMM  = 0.75  // half-way between the thin, bending kind (0.5 mm) and the stiff one (1.0 mm)
	uRuleThickMM = 0.144 // standard deviation of an even distribution over that range
	ruleFlatMM   = 0.05  // a rule may be bowed, and the part's ground is not quite its own
	heldMM       = 0.01  // holds the shift along the graduations, which they do not show and nobody asks for
)

// lattice is where a row of graduations lies in the picture: a place on it, the way to the next graduation, and the
// direction of the graduations, so that both and the view from above make a right-handed frame. For starting a fit.
type lattice struct {
	at, next, along pt
}

// camera is a camera square above the lattice, in units of one pitch.
func (l lattice) camera(focal float64, size [2]int) (Camera, bool) {
	v := l.along.mul(l.next.norm() / l.along.norm())
	return cameraFrom([3][3]float64{{l.next.x, v.x, l.at.x}, {l.next.y, v.y, l.at.y}, {0, 0, 1}}, focal, size)
}

// fitLines fits a camera to places on the world's lines x = k·unit, which are parallel. Seen in perspective they meet, and
// that shows how the camera is tilted across the rule, as their spacing shows how it is tilted along. The shift along the
// lines is held where l.at has y = 0.
func fitLines(seen []onLine, l lattice, unit, focalPX float64, size [2]int) (*poseFit, error) {
	f := &poseFit{name: "rule", focalPX: focalPX, sigma: 0.1, size: size, flatMM: ruleFlatMM}
	for _, s := range seen {
		s.xMM *= unit
		f.seen = append(f.seen, s)
	}
	f.assumed = []assumption{func(c Camera) float64 { return c.OnPlane(l.at.x, l.at.y, 0).Y / (heldMM * unit) }}
	var starts []Camera
	focal := focalPX // one start serves: the lines' spacing and their meeting have one valley
	if focal <= 0 {
		focal = l.next.norm() / unit * priorDistanceMM
	}
	if cam, ok := l.camera(focal, size); ok {
		cam.T = cam.T.mul(unit)
		starts = append(starts, cam)
	}
	if err := f.solve(starts); err != nil {
		return nil, err
	}
	if len(f.seen) < 2*leastLengths {
		return nil, Refusal{"the rule's graduations do not fit one straight, flat rule: lay it flat, uncovered, and take it sharp"}
	}
	f.estimateSigma()
	return f, f.covariance()
}

// lattice of a row, in pixels of the full picture, counted from its middle mark.
func (r row) lattice(shrink float64) (l lattice, k0 int) {
	k0 = r.marks[len(r.marks)/2].k
	line := r.line()
	var k float64
	for _, m := range r.marks {
		k += float64(m.k) / float64(len(r.marks))
	}
	at := line.at.add(line.along.mul(float64(k0) - k))
	l = lattice{enlarged(at, shrink), line.along.mul(1 / shrink), r.to.along(at)}
	if l.next.cross(l.along) > 0 { // y runs down in the picture
		l.along = l.along.mul(-1)
	}
	return l, k0
}

// enlarged turns a place of the reduced picture into one of the full picture.
func enlarged(p pt, shrink float64) pt {
	return pt{(p.x+0.5)/shrink - 0.5, (p.y+0.5)/shrink - 0.5}
}

// rough is the camera over a row in units of a pitch, from its dashes.
func (r row) rough(shrink float64, size [2]int) (*poseFit, lattice, error) {
	l, k0 := r.lattice(shrink)
	var seen []onLine
	step := 1 + len(r.marks)/mostMarks
	for i := 0; i < len(r.marks); i += step {
		m := r.marks[i]
		for _, s := range []float64{-0.7, 0.7} {
			seen = append(seen, onLine{float64(m.k - k0), enlarged(m.end(s), shrink), 1})
		}
	}
	// One pitch is taken for a millimetre here: the assumed distance then only holds the perspective in bounds.
	fit, err := fitLines(seen, l, 1, 0, size)
	return fit, l, err
}

const mostMarks = 60

// evidence turns graduations into places on their lines: two for each, one standard deviation of its spots to either
// side of their middle, where a straight line's two parameters err independently.
func (s strip) evidence(ticks []tick, middle int) []onLine {
	var out []onLine
	for _, t := range ticks {
		for _, side := range []float64{-1, 1} {
			x, y := s.cam.Project(Vec{t.x + side*t.slope*t.reach, t.y + side*t.reach, 0})
			out = append(out, onLine{float64(t.k - middle), pt{x, y}, 1})
		}
	}
	return out
}

// edgeBlur is the blur square to the row's edges, px of the strip, from the graduations' free ends: the median over all.
func (s strip) edgeBlur(ticks []tick, footLow bool) (float64, bool) {
	var all []float64
	for _, t := range ticks {
		end := t.high
		if !footLow {
			end = t.low
		}
		half := math.Min(t.high-t.low, 3) * float64(s.per)
		at := (end - s.y0) * float64(s.per)
		col := int(math.Round(s.column(float64(t.k))))
		var profile []float64
		for j := max(0, int(at-half)); j <= min(s.h-1, int(at+half)); j++ {
			sum, n := 0., 0.
			for d := -1; d <= 1; d++ {
				sum, n = sum+float64(s.v[j*s.w+col+d]), n+1
			}
			profile = append(profile, sum/n)
		}
		if e, err := subpixel.FindEdge(profile); err == nil && !math.IsNaN(e.Sigma) {
			all = append(all, e.Sigma)
		}
	}
	if len(all) < 8 {
		return 0, false
	}
	return median(all...), true
}

// lineBlur is the blur along the row, px of the strip, from the graduations' mean profile: a dark bar of some width under a
// Gaussian blur, the two found by trying all.
func (s strip) lineBlur(ticks []tick) (float64, bool) {
	half := int(0.45 * float64(s.per))
	profile := make([]float64, 2*half+1)
	weight := 0.
	for _, t := range ticks {
		from := int((t.low - s.y0) * float64(s.per))
		to := int((t.high - s.y0) * float64(s.per))
		for j := max(0, from); j < min(s.h, to); j++ {
			c := s.column(t.x + t.slope*(s.world(0, float64(j)).Y-t.y))
			i0 := int(math.Floor(c)) - half
			f := c - math.Floor(c)
			if i0 < 0 || i0+2*half+1 >= s.w {
				continue
			}
			v := s.v[j*s.w+i0 : j*s.w+i0+2*half+2]
			if slices.ContainsFunc(v, func(x float32) bool { return x != x }) { // NaN, outside the picture
				continue
			}
			for i := range profile {
				profile[i] += (1-f)*float64(v[i]) + f*float64(v[i+1])
			}
			weight++
		}
	}
	if weight < 20 {
		return 0, false
	}
	best, sigma := math.Inf(1), 0.
	for width := 1.; width < 0.6*float64(s.per); width *= 1.1 {
		for try := 0.3; try < 0.6*float64(s.per); try *= 1.1 {
			if c := barMisfit(profile, width, try); c < best {
				best, sigma = c, try
			}
		}
	}
	return sigma, true
}

// barMisfit is the least sum of squares between a profile and a blurred bar in its middle, over its ground and its depth.
func barMisfit(profile []float64, width, sigma float64) float64 {
	var n, m, mm, v, vv, mv float64
	half := float64(len(profile)-1) / 2
	for i, y := range profile {
		x := float64(i) - half
		b := (math.Erf((x+width/2)/(sigma*math.Sqrt2)) - math.Erf((x-width/2)/(sigma*math.Sqrt2))) / 2
		n, m, mm, v, vv, mv = n+1, m+b, mm+b*b, v+y, vv+y*y, mv+b*y
	}
	sxx, sxy, syy := mm-m*m/n, mv-m*v/n, vv-v*v/n
	if sxx <= 0 {
		return math.Inf(1)
	}
	return syy - sxy*sxy/sxx
}
