package photo

import (
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	reliefPPM  = 16 // a strand is four to six pixels wide: enough to tell its width
	strayMM    = 7  // the longest stray looked for, across
	strayAlong = 4.5
)

// strays counts the strands outside the sleeve and measures the longest.
//
// A strand is a stripe of the declared width. Every stripe that crosses lines round the part's outline is followed both ways; it is
// a stray where it is as narrow as a strand all along, stands out of what the ground shows by itself, comes from
// where strands can leave the part, and is not the shadow of another one. A strand that stays within the outline as
// seen, over the sleeve or straight up, is not seen as a stray.
func (b *bench) strays(s sleeve) {
	shape := strayShape{
		cut: b.cutX, rear: math.Max(s.rearX, b.cutX), front: s.frontX, wire: b.part.WireMM / 2, bundle: b.body.bundle,
		left: s.left.at, right: s.right.at,
	}
	reach := shape.wire + strayMM + 1
	r := newRelief(b.im, b.frame, -strayAlong-2, s.frontX+strayAlong+2, -reach, reach, math.Min(reliefPPM, 1.5*b.ppm), b.body.strand)
	found, doubtful := r.searchStrays(shape)
	b.rec.Set(record.StrayCount, float64(len(found)), math.Min(1, float64(doubtful)))
	b.longestStray(found, doubtful)
	for _, f := range found {
		m := record.Mark{Kind: record.MarkStray, Key: record.StrayCount}
		for _, p := range f.course() {
			m.Points = append(m.Points, b.frame.Pixel(p.X, p.Y, 0))
		}
		b.rec.Marks = append(b.rec.Marks, m)
	}
}

// longestStray notes the longest, from root to tip. Where none was found, one that reaches less than about a strand's width and a half
// beyond the outline would have been missed.
func (b *bench) longestStray(found []stray, doubtful int) {
	budget := uncertainty.Budget{
		{Name: "seen", Source: "what hides behind the outline's own edge: one and a half strand widths", Standard: 0.75 * b.body.strand},
	}
	longest := 0.0
	for _, f := range found {
		if f.length() > longest {
			longest = f.length()
			budget = uncertainty.Budget{
				{Name: "tip", Source: "where the stripe ends, half a strand's width", Standard: b.body.strand / 2},
				{Name: "root", Source: "where the hidden part begins: a third of what is hidden, and the conductor's visible width",
					Standard: math.Hypot(f.hidden/3, 0.25*b.body.bundle)},
				{Name: "climb", Source: "rise out of the picture's plane: up to 35 degrees, evenly spread", Standard: 0.06 * longest},
			}
		}
	}
	if len(found) == 0 && doubtful > 0 {
		b.rec.Miss(record.StrayLongest, "something beside the part may be a stray strand or a shadow: use a plain ground and soft light")
		return
	}
	b.set(record.StrayLongest, longest, budget)
}

// strayShape is what the search knows of the part, in mm of its frame: the insulation is cut at cut, the sleeve
// reaches from rear to front.
type strayShape struct {
	cut          float64 // where the insulation ends
	rear, front  float64
	wire, bundle float64                 // half the insulation's width; radius of the bare conductor
	left, right  func(x float64) float64 // y of the sleeve's sides; right is negative
}

// half is how far the outline reaches from the axis at x on a side. It is widened along x so that the insulation's
// cut face and the sleeve's ends lie well inside.
func (p strayShape) half(x float64, s side) float64 {
	const margin = 0.25
	h := p.bundle
	if x < p.cut+margin {
		h = math.Max(h, p.wire)
	}
	if x > p.rear-margin {
		if s == left {
			return math.Max(h, p.left(x))
		}
		return math.Max(h, -p.right(x))
	}
	return h
}

// beyond is how far a place lies outside the outline, across; negative within.
func (p strayShape) beyond(q subpixel.Point) float64 {
	if q.Y >= 0 {
		return q.Y - p.half(q.X, left)
	}
	return -q.Y - p.half(q.X, right)
}

// slot tells whether a path stays in the slot beside the bare conductor, between the insulation's cut face and the
// sleeve's rear edge: the ground and shadows seen through it look like a stripe, and no strand that stays there leaves the part.
func (p strayShape) slot(path []subpixel.Point) bool {
	const rim = 0.3
	wide := math.Max(p.wire, math.Max(p.left(p.rear), -p.right(p.rear))) + rim
	return !slices.ContainsFunc(path, func(q subpixel.Point) bool {
		return q.X < p.cut-rim || q.X > p.rear+rim || math.Abs(q.Y) > wide
	})
}

// toRoots is the distance to the nearest place at which a stray can have its root: the bare conductor or the brush.
func (p strayShape) toRoots(q subpixel.Point) float64 {
	box := func(x0, x1, h float64) float64 {
		return math.Hypot(math.Max(0, math.Max(x0-q.X, q.X-x1)), math.Max(0, math.Abs(q.Y)-h))
	}
	const brushMM = 1.5
	return math.Min(box(p.cut, p.rear, p.bundle), box(p.front, p.front+brushMM, math.Max(p.bundle, 0.8*p.left(p.front))))
}

// stray is a stripe outside the part, from the outline to its tip.
type stray struct {
	path         []subpixel.Point // mm
	root         subpixel.Point   // where its straight backward extension comes nearest to the roots' places
	outside      float64          // length of the path
	hidden       float64          // from the root to the path
	miss         float64          // how far the root lies from the roots' places
	reach        float64          // the farthest beyond the outline
	strength     float64          // median of how much it stands out
	faint        float64          // share of it that stands out by less than 0.4 of that
	straightness float64          // from end to end over outside
	section
}

// length is from root to tip.
func (s stray) length() float64 { return s.hidden + s.outside }

// course is the polyline from root to tip.
func (s stray) course() []subpixel.Point { return append([]subpixel.Point{s.root}, s.path...) }

func (s stray) tip() subpixel.Point { return s.path[len(s.path)-1] }

// searchStrays follows every stripe that crosses the lines round the part and keeps the strays. doubtful counts what may
// be one or may not.
func (r *relief) searchStrays(p strayShape) (found []stray, doubtful int) {
	usual, rare := r.groundLevels(p)
	var all []stray
	for _, t := range r.trails(p, seedTimes*usual, followTimes*usual) {
		if s, ok := r.describe(p, t); ok {
			all = append(all, s)
		}
	}
	var maybe []stray
	for _, s := range all {
		switch s.likely(rare) {
		case yes:
			found = append(found, s)
		case perhaps:
			maybe = append(maybe, s)
		}
	}
	found = withoutShadows(withoutCopies(found, r.strandPX/r.ppm))
	for _, m := range maybe {
		if !slices.ContainsFunc(found, func(s stray) bool { return m.copyOf(s, 2*r.strandPX/r.ppm) || m.shadowOf(s) }) {
			doubtful++
		}
	}
	return found, doubtful
}

const (
	seedTimes   = 2.0 // of the ground's usual level: worth following from
	followTimes = 1.2 // worth following on
)

// nearMM and farMM are the lines beside the outline, mm outside it: where strays are looked for, and where the ground is.
var (
	nearMM = []float64{0.4, 0.7, 1.0}
	farMM  = []float64{2.2, 3, 3.8}
)

// beside calls f for places along the line d outside the outline, on both sides.
func (r *relief) beside(p strayShape, d, stepPX float64, f func(s side, px, py float64)) {
	for _, s := range []side{left, right} {
		for x := -strayAlong; x <= p.front+strayAlong; x += stepPX / r.ppm {
			px, py := r.pixel(subpixel.Point{X: x, Y: float64(s) * (p.half(x, s) + d)})
			f(s, px, py)
		}
	}
}

// groundLevels tells how much the ground's own texture and noise stand out: the upper quartile and the 95th percentile
// on the far lines. Both have a floor: a perfectly smooth ground proves nothing about smudges.
func (r *relief) groundLevels(p strayShape) (usual, rare float64) {
	const floor = 0.006
	var v []float64
	for _, d := range farMM {
		r.beside(p, d, 2, func(_ side, px, py float64) {
			if s, _, _ := r.strongest(px, py); s >= 0 {
				v = append(v, s)
			}
		})
	}
	if len(v) == 0 {
		return floor, 2 * floor
	}
	return math.Max(floor, subpixel.Percentile(v, 75)), math.Max(2*floor, subpixel.Percentile(v, 95))
}

// trails follows the stripes that cross the near lines, the strongest first, each once.
func (r *relief) trails(p strayShape, seedLevel, floor float64) (trails [][]trailPoint) {
	var seeds []seed
	for _, d := range nearMM {
		line := map[side][]seed{}
		r.beside(p, d, 1, func(s side, px, py float64) {
			v, tx, ty := r.strongest(px, py)
			line[s] = append(line[s], seed{px, py, v, tx, ty})
		})
		for _, s := range []side{left, right} {
			seeds = append(seeds, peaks(line[s], seedLevel)...)
		}
	}
	slices.SortStableFunc(seeds, func(a, b seed) int { return int(math.Copysign(1, b.s-a.s)) })
	for _, s := range seeds {
		if !slices.ContainsFunc(trails, func(t []trailPoint) bool { return passes(t, s.x, s.y, 0.8*r.strandPX) }) {
			trails = append(trails, r.followBoth(s, floor))
		}
	}
	return trails
}

// peaks are the seeds that stand out most among their neighbours, and by more than level.
func peaks(line []seed, level float64) (out []seed) {
	for k, c := range line {
		if c.s <= level {
			continue
		}
		around := line[max(0, k-4):min(len(line), k+5)]
		if !slices.ContainsFunc(around, func(o seed) bool { return o.s > c.s }) {
			out = append(out, c)
		}
	}
	return out
}

// describe turns a trail into what lies of it outside the outline, from where it last leaves that to its far end.
func (r *relief) describe(p strayShape, t []trailPoint) (s stray, ok bool) {
	path := make([]subpixel.Point, len(t))
	for k := range t {
		path[k] = r.point(t[k])
	}
	if p.beyond(path[0]) > p.beyond(path[len(path)-1]) {
		slices.Reverse(path)
		slices.Reverse(t)
	}
	start := 0
	for k, q := range path {
		if p.beyond(q) <= leaveMM {
			start = k
		}
	}
	path, t = path[start:], t[start:]
	if len(path) < 6 || p.slot(path) {
		return s, false
	}
	s.path = path
	stands := make([]float64, len(t))
	for k, q := range path {
		s.reach = math.Max(s.reach, p.beyond(q))
		stands[k] = t[k].s
		if k > 0 {
			s.outside += apart(q, path[k-1])
		}
	}
	s.strength = subpixel.Percentile(stands, 50)
	for _, v := range stands {
		if v < 0.4*s.strength {
			s.faint += 1 / float64(len(stands))
		}
	}
	s.straightness = apart(path[0], s.tip()) / s.outside
	s.findRoot(p, int(0.7*r.ppm/trailStepPX))
	s.section, ok = r.sectionOf(t)
	return s, ok
}

const leaveMM = 0.1 // beyond the outline as modelled: there the path outside begins

// findRoot extends the path straight back, by its direction over its first n steps, to where it comes nearest to the roots' places.
// A longer extension counts against a place, as its direction gets less sure.
func (s *stray) findRoot(p strayShape, n int) {
	const (
		farthestMM = 2.5
		perMM      = 0.3
	)
	a, b := s.path[0], s.path[min(len(s.path)-1, n)]
	l := apart(a, b)
	dx, dy := (a.X-b.X)/l, (a.Y-b.Y)/l
	best := math.Inf(1)
	for d := 0.0; d <= farthestMM; d += 0.05 {
		q := subpixel.Point{X: a.X + d*dx, Y: a.Y + d*dy}
		if m := p.toRoots(q); m+perMM*d < best {
			best, s.miss, s.hidden, s.root = m+perMM*d, m, d, q
		}
	}
}

func apart(a, b subpixel.Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// likelihood that a stripe is a strand.
type likelihood int

const (
	no likelihood = iota
	perhaps
	yes
)

// likely judges a stripe on its own. rare is what the ground shows in few places. The limits were set on ray-traced
// pictures of other parts, grounds and lights than those that the tests use.
func (s stray) likely(rare float64) likelihood {
	stripe := s.wide < 0.8 && s.uneven < 0.85 && s.faint < 0.3 && s.straightness > 0.88
	shape := s.reach > 0.45 && s.reach < strayMM && s.outside > 0.8 && s.outside < 8.5 && s.reach > 0.2*s.outside
	// Lit ground between two shadows looks like a bright stripe, but where it ends the ground goes on as bright.
	slit := s.ahead > 0.7 && s.ahead < 1.4 && s.contrast[1] > 0 && s.uneven > 0.22
	rooted := s.miss < 0.63 || s.miss < 2.5 && s.uneven < 0.35 && s.strength > 4*rare
	times := 2.2
	if s.outside > 1.5 && s.faint < 0.15 && s.uneven < 0.5 {
		times = 1.7
	}
	clear := s.strength > math.Max(times*rare, 0.05)
	switch {
	case stripe && shape && rooted && clear && !slit:
		return yes
	case stripe && shape && !slit && s.miss < 0.4 && s.outside > 1.2 && s.uneven < 0.5 && s.strength > math.Max(0.75*times*rare, 0.04):
		return perhaps
	}
	return no
}

// copyOf tells whether at least half of s runs within d of o.
func (s stray) copyOf(o stray, d float64) bool {
	on := 0
	for _, p := range s.path {
		if slices.ContainsFunc(o.path, func(q subpixel.Point) bool { return apart(p, q) < d }) {
			on++
		}
	}
	return 2*on >= len(s.path)
}

// withoutCopies keeps one of those that run along each other: a strand's bright and dark side are two stripes.
func withoutCopies(all []stray, strandMM float64) (kept []stray) {
	slices.SortStableFunc(all, func(a, b stray) int {
		return int(math.Copysign(1, b.strength*b.outside-a.strength*a.outside))
	})
	for _, s := range all {
		if !slices.ContainsFunc(kept, func(k stray) bool { return s.copyOf(k, 1.3*strandMM) }) {
			kept = append(kept, s)
		}
	}
	return kept
}

// dark tells whether the stripe may be a shadow: darker than the ground in all channels about alike.
func (s stray) dark() bool {
	low, high := slices.Min(s.contrast[:]), slices.Max(s.contrast[:])
	return high < 0 && high-low < -0.35*(low+high)/2
}

// shadowOf tells whether s may be the shadow that o casts: dark, on the same side, from about the same place. Of two dark ones it is
// the one farther from the roots' places.
func (s stray) shadowOf(o stray) bool {
	const nearMM = 2.5
	if !s.dark() || s.root == o.root {
		return false
	}
	if s.miss > 0.75 && !o.dark() {
		return true
	}
	sameSide := (s.path[0].Y > 0) == (o.path[0].Y > 0) && math.Abs(s.path[0].X-o.path[0].X) < nearMM
	return sameSide && (!o.dark() || o.miss < s.miss)
}

func withoutShadows(all []stray) (kept []stray) {
	for _, s := range all {
		if !slices.ContainsFunc(all, s.shadowOf) {
			kept = append(kept, s)
		}
	}
	return kept
}
