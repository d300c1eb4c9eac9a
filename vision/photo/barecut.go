package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// cutFace is the insulation's cut end: a plane through a round wire, and so an ellipse as seen. Its points at the height
// z over the axis lie at
//
//	x = at + slant·y + lean·z   and look, on the axis' plane, like   x = at + slant·y + (lean + slope)·z
//
// with the slope of view along the axis: rim, the upper half, at z = +√(R² - y²). Seen from the strands' side the face
// itself shows: its rim then is an edge between the insulation's skin and the face, the ground begins at the lower half
// of the ellipse, and the strands at the face's foot, as high as the strands are.
type cutFace struct {
	at, slant, bulge float64 // bulge = lean + slope, as seen
	rim              float64 // mean x of the upper rim, seen from straight above, mm
	sd               float64 // of the points about the arc, mm
	uAt, uSlant      float64 // standard uncertainties: mm, rad
	points           []rimPoint
}

// rimPoint is a place on the cut end's rim as seen, at the height z over the axis.
type rimPoint struct {
	subpixel.Point
	z float64
}

const (
	cutStepMM    = 0.1
	cutReachMM   = 0.2
	rimReachMM   = 0.15
	rimShare     = 0.94 // of the radius: further out the rim runs along x
	cutSearchMM  = 0.7
	slantMost    = 0.6  // 31 degrees
	leanSD       = 0.05 // a cut leans by some 3 degrees
	rimSettleMM  = 0.12 // a cut end is even to within this
	rimApartMM   = 0.15 // nearer to another arc's border it is that one again
	rimEvenMM    = 0.05
	rimGuessMM   = 0.07 // how well foot and lower half stand for a rim that is not seen
	rimDefinedMM = 0.04 // a rounded rim has an inner and an outer border
	meanOfHalf   = 2 / math.Pi
)

// cutLines are scan lines along the axis over the cut end, with how strongly each shows a border where.
type cutLines struct {
	start, step float64 // mm
	y           []float64
	profiles    [][][]float64
	strength    [][]float64 // of the line: 0..1 of what a typical line shows at most
	known       []float64   // where the insulation ends after the regions, NaN where they do not say
}

// cutFace finds the ellipse that runs along the most and strongest borders.
func (b *bench) cutFace(w wire) (cutFace, bool) {
	slope, _ := b.frame.View(0, 0)
	lines := b.linesOverCut(w)
	bare := b.bareHalf()
	c := lines.search(w.radius, bare, slope)
	if !b.settleCut(&c, lines, w.radius, bare, slope) {
		return c, false
	}
	for _, p := range c.points {
		b.mark(record.MarkScan, record.StripLength, 0, [2]float64{p.X - 0.08, p.Y}, [2]float64{p.X + 0.08, p.Y})
	}
	return c, true
}

func (b *bench) linesOverCut(w wire) cutLines {
	reach := subpixel.Both(cutReachMM * b.ppm)
	slope, _ := b.frame.View(0, 0)
	margin := cutSearchMM + math.Abs(slope)*w.radius + 0.5*w.radius
	l := cutLines{start: -margin - rimReachMM - 0.1, step: 0.5 / b.ppm}
	for y := -rimShare * w.radius; y <= rimShare*w.radius; y += cutStepMM {
		p := lnProfile(b.along(l.start, margin+rimReachMM+0.1, y-cutStepMM/2, y+cutStepMM/2))
		l.y, l.profiles, l.strength = append(l.y, y), append(l.profiles, p), append(l.strength, b.strengths(p, reach))
		l.known = append(l.known, b.lastOf(part.Insulation, y, -margin, margin))
	}
	levelled(l.strength)
	return l
}

// lastOf is the last x between from and to up to which a class is the likeliest without a gap; NaN where it is not there.
func (b *bench) lastOf(class part.Class, y, from, to float64) float64 {
	last := math.NaN()
	if b.part.Regions == nil {
		return last
	}
	for x := from; x <= to; x += 0.03 {
		if b.part.Regions.At(class, b.frame, x, y) > 0.5 {
			last = x
		}
	}
	return last
}

// bareHalf is half the strands' width next to the insulation, roughly.
func (b *bench) bareHalf() float64 {
	area := b.declared.ConductorArea
	if area == 0 && b.declared.StrandCount > 0 {
		area = b.declared.StrandCount * math.Pi / 4 * sq(b.declared.StrandDiameter)
	}
	if area > 0 {
		return math.Sqrt(area / fillOfBundle / math.Pi)
	}
	if b.part.Regions != nil {
		wide := 0.0
		for y := -b.part.WireMM / 2; y < b.part.WireMM/2; y += 0.05 {
			if b.part.Regions.At(part.Conductor, b.frame, 1, y) > 0.5 {
				wide += 0.05
			}
		}
		if wide > 0.5 {
			return wide / 2
		}
	}
	return 0.24 * b.part.WireMM
}

// at is a line's strength at x, weighed by the regions where these say where the insulation ends.
func (l *cutLines) at(line int, x float64, outer bool) float64 {
	s := l.strength[line]
	k := int((x-l.start)/l.step + 0.5)
	if k < 0 || k >= len(s) {
		return 0
	}
	v := s[k]
	if known := l.known[line]; outer && !math.IsNaN(known) {
		v *= math.Exp(-0.5 * sq((x-known)/0.3))
	}
	return v
}

// score is the mean strength along an ellipse: along its rim, and along what ends the insulation's picture there.
func (l *cutLines) score(c cutFace, radius, bare float64) float64 {
	sum := 0.0
	for i, y := range l.y {
		z := math.Sqrt(radius*radius - y*y)
		base := c.at + c.slant*y
		rim := base + c.bulge*z
		outer := rim
		if c.bulge < 0 {
			foot := -z
			if math.Abs(y) < bare {
				foot = math.Sqrt(bare*bare - y*y)
			}
			outer = base + c.bulge*foot
		}
		sum += 0.75*l.at(i, outer, true) + 0.5*math.Min(0.5, l.at(i, rim, false))
	}
	return sum / float64(len(l.y))
}

func (l *cutLines) search(radius, bare, slope float64) cutFace {
	best, most := cutFace{bulge: slope}, -1.0
	try := func(c cutFace) {
		s := l.score(c, radius, bare) * math.Exp(-0.25*sq((c.bulge-slope)/leanSD)-0.1*sq(c.at/0.4))
		if s > most {
			best, most = c, s
		}
	}
	for at := -cutSearchMM; at <= cutSearchMM; at += 0.04 {
		for slant := -slantMost; slant <= slantMost; slant += 0.03 {
			for lean := -2.; lean <= 2; lean++ {
				try(cutFace{at: at, slant: slant, bulge: slope + lean*leanSD})
			}
		}
	}
	for step := 1.0; step > 0.1; step /= 2 {
		for range 3 {
			c := best
			for _, d := range []cutFace{{at: 0.04 * step}, {slant: 0.02 * step}, {bulge: 0.03 * step}} {
				for _, k := range []float64{-1, 1} {
					try(cutFace{at: c.at + k*d.at, slant: c.slant + k*d.slant, bulge: c.bulge + k*d.bulge})
				}
			}
		}
	}
	return best
}

// settleCut finds each line's border near the ellipse and fits arcs through them, robustly. A cut end is no true plane:
// the rim, the foot and the lower half are arcs of their own. Where the face is seen and its rim is not to be told from the
// skin, as on black insulation, foot and lower half stand for it. The lean, hard to see, is held near none by leanSD.
func (b *bench) settleCut(c *cutFace, l cutLines, radius, bare, slope float64) bool {
	var rim, foot, low [][2]float64 // line, height
	for i, y := range l.y {
		z := math.Sqrt(radius*radius - y*y)
		end, beside := -z, math.Abs(y) > bare+0.1
		if !beside {
			end = math.Sqrt(math.Max(0, bare*bare-y*y))
		}
		apart := -c.bulge * (z - end)
		if apart > rimSettleMM && beside {
			low = append(low, [2]float64{float64(i), end})
		} else if apart > rimSettleMM {
			foot = append(foot, [2]float64{float64(i), end})
		}
		if apart < rimSettleMM || apart > 2*rimSettleMM { // else it may be the foot or the lower half that is seen
			rim = append(rim, [2]float64{float64(i), z})
		}
	}
	arcs := make([]cutFace, 3)
	ok := make([]bool, 3)
	for k, where := range [][][2]float64{rim, foot, low} {
		arcs[k] = *c
		ok[k] = b.settleArc(&arcs[k], l, where, slope)
	}
	seen := len(foot)+len(low) < len(l.y)/2 // no face: the rim is where the insulation ends
	if !seen && ok[0] {
		arcs[0].leaveOut(slices.Concat(arcs[1].points, arcs[2].points), rimApartMM)
		ok[0] = len(arcs[0].points) > len(rim)*3/5 && arcs[0].fit(slope) < rimEvenMM
	}
	return c.join(arcs, ok, radius, slope, seen)
}

// join takes the place from the rim, else from foot and lower half, and the slant from all arcs, each by its weight.
func (c *cutFace) join(arcs []cutFace, ok []bool, radius, slope float64, seen bool) bool {
	var n, at, lean, slant, weights, places float64
	c.points = nil
	for k, a := range arcs {
		if !ok[k] {
			continue
		}
		uAt, uSlant := a.spread()
		w := 1 / sq(uSlant)
		slant, weights = slant+w*a.slant, weights+w
		c.points = append(c.points, a.points...)
		if k == 0 || !ok[0] {
			n, at, lean = n+1, at+a.at, lean+a.bulge-slope
			places = math.Max(places, uAt)
		}
	}
	if n == 0 {
		return false
	}
	c.at, c.slant, c.bulge = at/n, slant/weights, lean/n+slope
	c.uAt, c.uSlant = places, 1/math.Sqrt(weights)
	for k, a := range arcs {
		if ok[k] {
			_, u := a.spread()
			c.uSlant = math.Max(c.uSlant, math.Min(math.Abs(a.slant-c.slant)/2, 2*u))
		}
	}
	if c.rim = c.at + meanOfHalf*radius*(c.bulge-slope); !ok[0] {
		c.rim, c.uAt = c.at, math.Hypot(c.uAt, rimGuessMM)
	}
	return ok[0] || !seen
}

// leaveOut drops points that lie within d of one of others on the same line.
func (c *cutFace) leaveOut(others []rimPoint, d float64) {
	c.points = slices.DeleteFunc(c.points, func(p rimPoint) bool {
		return slices.ContainsFunc(others, func(q rimPoint) bool { return q.Y == p.Y && math.Abs(q.X-p.X) < d })
	})
}

// settleArc finds borders near the arc on lines at heights, twice, and fits it.
func (b *bench) settleArc(c *cutFace, l cutLines, where [][2]float64, slope float64) bool {
	reach := subpixel.Both(rimReachMM * b.ppm)
	for _, window := range []float64{rimSettleMM, 0.6 * rimSettleMM} {
		c.points = nil
		for _, w := range where {
			i, z := int(w[0]), w[1]
			at := (c.at + c.slant*l.y[i] + c.bulge*z - l.start) * b.ppm
			if p, ok := subpixel.FindBorder(l.profiles[i], at-window*b.ppm, at+window*b.ppm, reach, b.blurPX); ok && p.Gain > 0.3 {
				c.points = append(c.points, rimPoint{subpixel.Point{X: l.start + p.Pos/b.ppm, Y: l.y[i]}, z})
			}
		}
		if len(c.points) < 6 {
			return false
		}
		c.fit(slope)
	}
	return true
}

// spread gives the standard uncertainties of an arc's place and slant from its points' scatter. Neighbours share a cut
// end's own waves: some five lines tell one thing.
func (c *cutFace) spread() (uAt, uSlant float64) {
	const together = 5
	var y []float64
	for _, p := range c.points {
		y = append(y, p.Y)
	}
	n := math.Sqrt(float64(len(y)) / together)
	return c.sd / n, c.sd / n / math.Max(0.3, spreadOf([][]float64{y}, 0, len(y)))
}

// fit puts the rim through the points and returns their scatter.
func (c *cutFace) fit(slope float64) (sd float64) {
	x := [3]float64{c.at, c.slant, c.bulge}
	sd = 0.03
	for range 8 {
		var m [3][4]float64
		var off []float64
		for _, p := range c.points {
			f := [3]float64{1, p.Y, p.z}
			r := p.X - x[0] - x[1]*f[1] - x[2]*f[2]
			off = append(off, r)
			addWeighted(&m, f, p.X, 1/(1+sq(r/(2*sd))))
		}
		sd = math.Max(0.01, subpixel.MAD(off))
		hold := sq(sd / leanSD)
		m[2][2] += hold
		m[2][3] += hold * slope
		x = solve3(m)
	}
	c.at, c.slant, c.bulge, c.sd = x[0], x[1], x[2], sd
	return sd
}

// cutAngle is the slant of the cut end against the square to the insulation's axis, in the picture's plane.
func (b *bench) cutAngle(w wire, c cutFace) {
	const deg = 180 / math.Pi
	b.set(record.InsulationCutAngle, math.Atan(math.Abs(c.slant))*deg, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the rim about an ellipse", Standard: c.uSlant * deg},
		{Name: "axis", Source: "direction of the insulation's sides", Standard: w.uAxis * deg},
		{Name: "definition", Source: "the rounded rim, whose inner and outer border are not told apart everywhere", Standard: 0.8},
	})
}
