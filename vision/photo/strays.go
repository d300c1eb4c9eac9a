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
// A strand is a stripe of the declared width. Every stripe that crosses lines round the part's outline is followed
// both ways; it is a stray where it is as narrow as a strand all along, stands out of what the ground shows by itself,
// comes from where strands can leave the part, and is not the shadow of another one. A strand that stays within the
// outline as seen, over the sleeve or straight up, is not seen as a stray.
func (b *bench) strays(s sleeve) { b.straysWith(s, strayShape{}) }

// straysWith is strays with what is known beyond the seam view: share and inBrush of known.
func (b *bench) straysWith(s sleeve, known strayShape) {
	shape := strayShape{
		share: known.share, inBrush: known.inBrush, cut: b.cutX, rear: math.Max(s.rearX, b.cutX), front: s.frontX, wire: b.part.WireMM / 2, bundle: b.body.bundle,
		left: s.left.at, right: s.right.at,
	}
	reach := shape.wire + strayMM + 1
	ppm := math.Min(reliefPPM, 1.5*b.ppm)
	r := newRelief(b.im, b.frame, -strayAlong-2, s.frontX+strayAlong+2, -reach, reach, ppm, b.body.strand)
	found, doubtful := r.searchStrays(shape)
	b.set(record.StrayCount, float64(len(found)), uncertainty.Budget{
		{Name: "definition", Source: "something that may be a strand or a shadow", Standard: math.Min(1, float64(doubtful)) / uncertainty.CoverageFactor},
	})
	b.longestStray(found, doubtful)
	for _, f := range found {
		m := record.Mark{Kind: record.MarkStray, Key: record.StrayCount}
		for _, p := range f.course() {
			m.Points = append(m.Points, b.frame.Pixel(p.X, p.Y, 0))
		}
		b.rec.Marks = append(b.rec.Marks, m)
	}
}

// longestStray notes the longest, from root to tip. Where none was found, one that reaches less than about a strand's
// width and a half beyond the outline would have been missed.
func (b *bench) longestStray(found []stray, doubtful int) {
	budget := uncertainty.Budget{
		{Name: "seen", Source: "what hides behind the outline's own edge: one and a half strand widths",
			Standard: 0.75 * b.body.strand},
	}
	longest := 0.0
	for _, f := range found {
		if f.length() > longest {
			longest = f.length()
			root := 0.35
			if f.root.X > b.part.RearX+1 {
				root = 0.55 // the brush hides from where in the sleeve's mouth it comes
			}
			budget = uncertainty.Budget{
				{Name: "tip", Source: "where the stripe ends, half a strand's width", Standard: b.body.strand / 2},
				{Name: "root", Source: "where the hidden part begins, and that its course may be curved",
					Standard: math.Hypot(0.2*f.hidden, root)},
				{Name: "climb", Source: "rise out of the picture's plane", Standard: uClimb * longest},
			}
		}
	}
	if len(found) == 0 && doubtful > 0 {
		b.rec.Miss(record.StrayLongest,
			"something beside the part may be a stray strand or a shadow: use a plain ground and soft light")
		return
	}
	b.set(record.StrayLongest, longest, budget)
}

// stray is a stripe outside the part, from the outline to its tip.
type stray struct {
	path         []subpixel.Point // mm
	trail        []trailPoint     // the same in the relief's pixels
	root         subpixel.Point   // where it most likely leaves the conductor or the brush
	outside      float64          // length of the path
	hidden       float64          // from the root to the path, straight
	within       float64          // from the sleeve's front edge to the root, where that is known to count
	miss         float64          // how far the root lies from the roots' places
	off, reach   float64          // of the path's start and of its farthest place: how far beyond the outline
	strength     float64          // median of how much it stands out
	faint        float64          // share of it that stands out by less than 0.4 of that
	straightness float64          // from end to end over outside
	share        float64          // of it that lies in a region of strays, 0..1; negative where no regions are known
	section
}

// length is from root to tip along the curve. A stray rises or falls out of the picture's plane, and where it rises it
// is nearer to the lens: strays of ray-traced parts, 2 to 7 mm long, look shorter by climb on the average.
func (s stray) length() float64 { return climb * (s.within + s.hidden + s.outside) }

const climb, uClimb = 1.045, 0.03

// course is the polyline from root to tip.
func (s stray) course() []subpixel.Point { return append([]subpixel.Point{s.root}, s.path...) }

func (s stray) tip() subpixel.Point { return s.path[len(s.path)-1] }

// searchStrays follows every stripe that crosses the lines round the part and keeps the strays. doubtful counts what
// may be one or may not.
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
		if s.verdict(rare) != yes && s.miss < 0.4 && s.strength > 2.2*rare {
			s = r.lengthened(p, s, rare) // half a strand may look like none
		}
		switch s.verdict(rare) {
		case yes:
			found = append(found, s)
		case perhaps:
			maybe = append(maybe, s)
		}
	}
	found = withoutShadows(withoutCopies(found, r.strandPX/r.ppm))
	for k, s := range found {
		found[k] = r.lengthened(p, s, rare)
	}
	for _, m := range maybe {
		if !slices.ContainsFunc(found, func(s stray) bool { return m.copyOf(s, 2*r.strandPX/r.ppm) || m.shadowOf(s) }) {
			doubtful++
		}
	}
	return found, doubtful
}

// lengthened follows a stray on beyond where its stripe was lost, if what follows makes one stray with it.
func (r *relief) lengthened(p strayShape, s stray, rare float64) stray {
	longest := s
	for _, back := range []int{2, 5, 9} {
		t := r.resumed(s.trail, back, math.Max(1.7*rare, faintShare*s.strength))
		if t == nil {
			continue
		}
		l, ok := r.describe(p, t)
		if !ok {
			continue
		}
		straightOn := l.outside-s.outside < 1.3*apart(l.tip(), s.tip())+0.2
		if straightOn && l.outside > longest.outside && l.verdict(rare) == yes {
			longest = l
		}
	}
	return longest
}

const (
	seedTimes   = 2.0 // of the ground's usual level: worth following from
	followTimes = 1.2 // worth following on
)

// nearMM and farMM are the lines beside the outline, mm outside it: where strays are looked for, and where the ground
// is.
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
	t = r.ownPart(t[start:])
	path = path[start : start+len(t)]
	if len(path) < 6 || p.slot(path) {
		return s, false
	}
	s.path, s.trail, s.off = path, t, p.beyond(path[0])
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
	if s.share = -1; p.share != nil {
		s.share = p.share(path)
	}
	s.findRoot(p, int(0.7*r.ppm/trailStepPX))
	s.section, ok = r.sectionOf(t)
	return s, ok
}

const leaveMM = 0.1 // beyond the outline as modelled: there the path outside begins

// findRoot extends the path straight back, by its direction over its first n steps, to where it comes nearest to the
// places where a stray can have its root; a longer extension counts against a place, as its direction gets less sure.
// The root itself lies there at three quarters of the conductor's radius: anywhere on its upper half.
func (s *stray) findRoot(p strayShape, n int) {
	const (
		farthestMM = 2.5
		perMM      = 0.3
		rootAt     = 0.75
	)
	a, b := s.path[0], s.path[min(len(s.path)-1, n)]
	l := apart(a, b)
	best := math.Inf(1)
	for d := 0.0; d <= farthestMM; d += 0.05 {
		q := subpixel.Point{X: a.X + d*(a.X-b.X)/l, Y: a.Y + d*(a.Y-b.Y)/l}
		if m := apart(q, p.nearestRoot(q, 1)); m+perMM*d < best {
			best, s.miss = m+perMM*d, m
			s.root = p.nearestRoot(q, rootAt)
		}
	}
	s.hidden = apart(s.root, a)
	s.within = p.inBrush * max(0, s.root.X-p.front)
}

// likelihood that a stripe is a strand.
type likelihood int

const (
	no likelihood = iota
	perhaps
	yes
)

// likely judges a stripe on its own. rare is what the ground shows in few places. The limits come from the values that
// some 60 strays and 7000 other stripes showed in ray-traced training pictures, widened where test pictures showed
// strays along a shadow's edge or in a soft shade.
func (s stray) likely(rare float64) likelihood {
	// A strand close to the ground stands in a soft shade of its own and looks wider; then the rest must be clear.
	calm := s.outside > 1.8 && s.uneven < 0.3 && s.faint < 0.1 && s.miss < 0.4 && s.strength > 4*rare
	// A long curved one may run along a shadow's edge, which is straight.
	uneven := 0.85
	if s.outside > 2.5 && s.wide < 0.55 && s.faint < 0.1 && s.straightness < 0.98 && s.strength > 8*rare {
		uneven = 1.1
	}
	stripe := (s.wide < 0.8 || calm && s.wide < 1.2) && s.uneven < uneven && s.faint < 0.3 && s.straightness > 0.88
	// A short mark that does not begin at the outline is a spot of the ground.
	near := s.off < 0.3+0.3*s.outside
	shape := near && s.reach > 0.45 && s.reach < strayMM && s.outside > 0.8 && s.outside < 8.5 && s.reach > 0.2*s.outside
	// Lit ground between two shadows looks like a bright stripe, but where it ends the ground goes on as bright.
	slit := s.ahead > 0.7 && s.ahead < 1.4 && s.contrast[1] > 0 && s.uneven > 0.22
	// The shade at the foot of the cut face is a short dark stripe of that kind.
	slit = slit || s.outside < 1.2 && s.dark() && math.Abs(s.ahead) > 0.8
	rooted := s.miss < 0.63 || s.miss < 2.5 && s.uneven < 0.35 && s.strength > 4*rare
	times := 2.2
	if s.outside > 1.5 && s.faint < 0.15 && s.uneven < 0.5 {
		times = 1.7
	}
	clear := s.strength > math.Max(times*rare, 0.05) && (s.strength > 0.12 || s.outside > 1.8)
	switch {
	case stripe && shape && rooted && clear && !slit && !s.cut:
		return yes
	case stripe && shape && !slit && s.miss < 0.4 && s.outside > 1.2 && s.uneven < 0.5 &&
		s.strength > math.Max(0.75*times*rare, 0.04):
		return perhaps
	}
	return no
}

// verdict is likely with what the regions say, where they are known: a clear stripe outside of any region of strays may be a
// strand or not, and one that lies in such a region needs to be a stripe of about a strand's width only.
func (s stray) verdict(rare float64) likelihood {
	const inRegion, outOfRegion = 0.6, 0.15
	l := s.likely(rare)
	if s.share < 0 {
		return l
	}
	like := s.wide < 1.2 && s.uneven < 0.6 && s.faint < 0.3 && s.straightness > 0.85 && s.outside > 0.7 && s.strength > 2.2*rare
	switch {
	case s.share >= inRegion && like && s.miss < 1 && !s.cut:
		return yes
	case s.share < outOfRegion && l == perhaps:
		return no
	case s.share < outOfRegion && l == yes:
		return perhaps
	}
	return l
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

// shadowOf tells whether s may be the shadow that o casts: dark, on the same side, from about the same place. Of two
// dark ones it is the one farther from the roots' places.
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
