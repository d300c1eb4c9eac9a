package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// wireSides are the insulation's two sides: parallel lines at centre ± radius at x = 0, in direction turn.
type wireSides struct {
	centre, radius float64 // mm
	turn, u        float64 // rad; u is the standard uncertainty of turn from the scatter
}

const (
	wireBlockMM  = 0.25
	sideSearchMM = 0.45 // across, about where the finder put the sides
	sideSettleMM = 0.1
	wireTurnDeg  = 3.0
	radiusSD     = 0.04 // of the radius, relative: declared or found, it is known to within this
)

// sideLines are scan lines from the axis outwards, a block each, with how strongly each shows a border where.
type sideLines struct {
	start, step float64
	x           []float64
	s           []side
	profiles    [][][]float64
	strength    [][]float64
}

// wireSides finds the pair of parallel lines along which most and the strongest borders run.
func (b *bench) wireSides(w wire) (wireSides, bool) {
	reach := subpixel.Both(0.25 * b.ppm)
	l := sideLines{start: math.Max(0, w.radius-sideSearchMM-0.6), step: 0.5 / b.ppm}
	for _, s := range []side{left, right} {
		for x := w.from; x+wireBlockMM <= -besideCutMM; x += wireBlockMM {
			p := lnProfile(b.outward(s, x, x+wireBlockMM, l.start, w.radius+sideSearchMM+0.6))
			l.x, l.s, l.profiles = append(l.x, x+wireBlockMM/2), append(l.s, s), append(l.profiles, p)
			l.strength = append(l.strength, b.strengths(p, reach))
		}
	}
	if len(l.x) < 8 {
		return wireSides{}, false
	}
	levelled(l.strength)
	found := l.search(w.radius)
	return found, b.settleSides(&found, l, reach)
}

// strengths tells for every half sample of a profile how strong a border is there, as an amplitude.
func (b *bench) strengths(p [][]float64, reach subpixel.Reach) []float64 {
	s := make([]float64, 2*(len(p[0])-1))
	for k := range s {
		v, _ := subpixel.BorderStrength(p, float64(k)/2, reach, b.blurPX)
		s[k] = math.Sqrt(math.Max(0, v))
	}
	return s
}

// levelled scales strengths of many lines to 0..1: logarithmically, since a faint border that all lines show tells
// more than a strong one of a few, and up to what a typical line shows at most.
func levelled(lines [][]float64) {
	var tops []float64
	for _, s := range lines {
		tops = append(tops, slices.Max(s))
	}
	limit := subpixel.Percentile(tops, 50)
	noise := math.Max(strengthNoise, subpixel.Percentile(slices.Concat(lines...), 20))
	for _, s := range lines {
		for k := range s {
			s[k] = math.Log1p(math.Min(limit, s[k])/noise) / math.Log1p(limit/noise)
		}
	}
}

const strengthNoise = 0.01 // ln of brightness: a level or two of a bright tone

func (l *sideLines) search(radius float64) wireSides {
	best, most := wireSides{radius: radius}, -1.0
	try := func(c wireSides) {
		sum := 0.0
		for i, x := range l.x {
			k := int((c.radius+float64(l.s[i])*(c.centre+c.turn*x)-l.start)/l.step + 0.5)
			if k >= 0 && k < len(l.strength[i]) {
				sum += l.strength[i][k]
			}
		}
		if sum *= math.Exp(-0.25 * sq((c.radius/radius-1)/radiusSD)); sum > most {
			best, most = c, sum
		}
	}
	for turn := -wireTurnDeg; turn <= wireTurnDeg; turn += 0.25 {
		for centre := -sideSearchMM; centre <= sideSearchMM; centre += 0.03 {
			for wide := -0.09; wide <= 0.0901; wide += 0.01 {
				try(wireSides{centre: centre, radius: radius * (1 + wide), turn: turn * math.Pi / 180})
			}
		}
	}
	for step := 1.0; step > 0.1; step /= 2 {
		for range 3 {
			c := best
			for _, k := range []float64{-step, step} {
				try(wireSides{c.centre + 0.02*k, c.radius, c.turn, 0})
				try(wireSides{c.centre, c.radius + 0.02*k, c.turn, 0})
				try(wireSides{c.centre, c.radius, c.turn + 0.003*k, 0})
			}
		}
	}
	return best
}

// settleSides finds each line's border near the pair and fits the pair through them, robustly.
func (b *bench) settleSides(c *wireSides, l sideLines, reach subpixel.Reach) bool {
	var at []subpixel.Point // x, and how far out
	var of []float64
	window := sideSettleMM * b.ppm
	for i, x := range l.x {
		k := (c.radius + float64(l.s[i])*(c.centre+c.turn*x) - l.start) * b.ppm
		if e, ok := subpixel.FindBorder(l.profiles[i], k-window, k+window, reach, b.blurPX); ok && e.Gain > 0.3 {
			at, of = append(at, subpixel.Point{X: x, Y: l.start + e.Pos/b.ppm}), append(of, float64(l.s[i]))
		}
	}
	if len(at) < len(l.x)/3 {
		return false
	}
	x, sd := [3]float64{c.radius, c.centre, c.turn}, 0.03
	for range 8 {
		var m [3][4]float64
		var off []float64
		for k, p := range at {
			f := [3]float64{1, of[k], of[k] * p.X}
			r := p.Y - x[0] - x[1]*f[1] - x[2]*f[2]
			off = append(off, r)
			addWeighted(&m, f, p.Y, 1/(1+sq(r/(2*sd))))
		}
		sd = math.Max(0.004, subpixel.MAD(off))
		x = solve3(m)
	}
	c.radius, c.centre, c.turn = x[0], x[1], x[2]
	var xs []float64
	for _, p := range at {
		xs = append(xs, p.X)
	}
	c.u = sd / (spreadOf([][]float64{xs}, 0, len(xs)) * math.Sqrt(float64(len(xs))/4))
	return true
}

// addWeighted adds an observation to the normal equations of three unknowns.
func addWeighted(m *[3][4]float64, f [3]float64, v, weight float64) {
	for i := range 3 {
		for j := range 3 {
			m[i][j] += weight * f[i] * f[j]
		}
		m[i][3] += weight * f[i] * v
	}
}

// around is the strip that shows the whole wire.
func (b *bench) around() *part.Strip {
	return part.NewStrip(b.im, b.frame, -insulationMostMM-0.5, b.part.FrontX+aroundFrontMM, -besideMM, besideMM, 0, b.ppm)
}
