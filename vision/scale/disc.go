package scale

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
)

const (
	discLeastPXPerMM = 4.   // a disc that is seen smaller than this is none that could serve
	discTogether     = 0.3  // rims whose middles lie nearer than this share of their size are one disc's
	discUnlike       = 0.06 // two discs that differ by more are not of one kind: a tilt makes less of it
	discOutline      = 1.15 // the room about a disc in which the part is not looked for
	discHalves       = 0.8  // share of its edges that another rim than the best must have
	discGood         = 0.2  // and the badness that it may have
	discInner        = 0.6  // and of those on the side where it lies within the best one
)

// Disc finds a round disc of a known diameter in an upright picture (mat 8-bit BGR, grey the same in grey) and tells from
// it where the camera stood. The plane z = 0 is its upper face. The error is a Refusal when the picture cannot serve.
func Disc(mat, grey gocv.Mat, diameterMM, focalPX float64) (Reference, error) {
	if !(diameterMM > 0) {
		return Reference{}, fmt.Errorf("a disc's diameter of %g mm is none", diameterMM)
	}
	found, err := roundThings(mat, discLeastPXPerMM*diameterMM/2)
	if err != nil {
		return Reference{}, err
	}
	pic, err := newColours(mat)
	if err != nil {
		return Reference{}, err
	}
	discs := pic.discs(found)
	if len(discs) == 0 {
		return Reference{}, noneFound(grey, "disc", noDisc)
	}
	r, note, err := oneDisc(discs)
	if err != nil {
		return Reference{}, err
	}
	size := [2]int{mat.Cols(), mat.Rows()}
	f, err := discFit(r, pic.wallLook(r.e), diameterMM, focalPX, size)
	if err != nil {
		return Reference{}, err
	}
	ref := f.reference()
	ref.GroundZMM, ref.UGroundMM = -discThickMM, discUThickMM
	ref.blurPX = pic.rimBlur(r)
	ref.light, ref.dark = pic.tonesAt(r.e)
	ref.Outline = f.ring(diameterMM / 2 * discOutline)
	if note != "" {
		ref.Notes = append(ref.Notes, note)
	}
	return ref, nil
}

// ring is a circle about the disc's middle as it is seen.
func (f *poseFit) ring(radiusMM float64) []record.Point {
	const places = 48
	var out []record.Point
	for k := range places {
		s, c := math.Sincos(2 * math.Pi * float64(k) / places)
		x, y := f.cam.Project(Vec{radiusMM * c, radiusMM * s, 0})
		out = append(out, record.Point{X: x, Y: y})
	}
	return out
}

// discs gives for each disc the rim that counts.
func (p colours) discs(found []ellipse) []rim {
	random := rand.New(rand.NewPCG(3, 4)) // the same picture always gives the same rims
	var groups [][]rim
	for _, e := range found {
		at := slices.IndexFunc(groups, func(g []rim) bool {
			return g[0].e.c.dist(e.c) < discTogether*math.Max(g[0].e.a, e.a)
		})
		if at >= 0 && slices.ContainsFunc(groups[at], func(o rim) bool { return o.e.same(e, 0.06*e.a) }) {
			continue // its rims have been found from the other one
		}
		rims := p.rimsNear(e, random)
		switch {
		case len(rims) == 0:
		case at >= 0:
			groups[at] = append(groups[at], rims...)
		default:
			groups = append(groups, rims)
		}
	}
	var out []rim
	for _, g := range groups {
		if r, ok := p.rimAt(p.upperRim(g).e, finalLines); ok {
			out = append(out, r)
		}
	}
	return out
}

// upperRim is the rim of a disc's upper face among all that was found about one middle. The one along which edges lie best
// is taken first. Then two things are told by the gap between it and another one: a gap that closes on one side is a
// shadow's or the side wall's, and the inner one is the face's; a gap that is as wide all round is relief or a hole, and the outer one
// is the disc's.
func (p colours) upperRim(rims []rim) rim {
	best := slices.MinFunc(rims, func(a, b rim) int { return int(math.Copysign(1, a.badness()-b.badness())) })
	for changed := true; changed; {
		changed = false
		for _, r := range rims {
			if r.cover < discHalves {
				continue
			}
			if low, high := best.e.gap(r.e); low > 0.4*high && low > 2 && r.sd < 2*best.sd+0.3 && r.slope() > 0.3*best.slope() {
				best, changed = r, true
			}
		}
	}
	for _, r := range rims {
		if r.cover < discHalves || r.badness() > discGood || r.sd > best.sd+0.05 {
			continue
		}
		if low, high := r.e.gap(best.e); high > 2 && low < 0.25*high && low > -0.35*high && p.within(best.e, r.e) >= discInner {
			best = r
		}
	}
	return best
}

// within is the share of an inner ellipse's rim along which edges lie, where it is clear of the outer one.
func (p colours) within(outer, inner ellipse) float64 {
	n, hits := 0, 0
	for _, l := range p.acrossRim(inner, 4, 240) {
		at, _ := inner.at(l.t)
		if d, _ := outer.distance(at); d > -rimTightPX {
			continue
		}
		n++
		if slices.ContainsFunc(l.edges, func(g rimEdge) bool { return math.Abs(g.d) < 0.7*rimTightPX }) {
			hits++
		}
	}
	return float64(hits) / math.Max(1, float64(n))
}

// badness is the mean square of the rim's distances from its ellipse, those of missing edges counted as the largest.
func (r rim) badness() float64 {
	tight := math.Max(rimTightPX, rimTightRel*r.e.a)
	sum := 0.
	for _, q := range r.used {
		sum += q.d * q.d / (tight * tight)
	}
	return 1 - r.cover + sum/math.Max(1, float64(len(r.used)))*r.cover
}

// slope is the mean steepness of the edges along the rim.
func (r rim) slope() float64 {
	sum := 0.
	for _, q := range r.used {
		sum += math.Abs(q.slope) / float64(len(r.used))
	}
	return sum
}

// gap is how far another ellipse lies outside of this one, at least and at most.
func (e ellipse) gap(o ellipse) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for k := range 36 {
		p, _ := o.at(float64(k) * math.Pi / 18)
		d, _ := e.distance(p)
		low, high = math.Min(low, d), math.Max(high, d)
	}
	return low, high
}

const noDisc = "no disc was found: lay one beside the part, wholly in the picture, on a ground from which its rim stands out"

// oneDisc is the disc that serves, or why none does.
func oneDisc(discs []rim) (r rim, note string, err error) {
	var whole []rim
	cut, covered := false, false
	for _, d := range discs {
		switch {
		case d.out > 0:
			cut = true
		case d.cover < rimCover:
			covered = true
		default:
			whole = append(whole, d)
		}
	}
	switch {
	case len(whole) == 0 && cut:
		return r, "", Refusal{"the disc is cut off by the picture's edge: take it whole, with some ground round it"}
	case len(whole) == 0 && covered:
		return r, "", Refusal{fmt.Sprintf("less than %.0f %% of the disc's rim can be seen: lay it beside the part, uncovered, on a ground "+
			"from which its rim stands out", 100*rimCover)}
	case len(whole) == 0:
		return r, "", Refusal{noDisc}
	}
	slices.SortFunc(whole, func(a, b rim) int { return int(math.Copysign(1, a.badness()-b.badness())) })
	r = whole[0]
	for _, o := range whole[1:] {
		if math.Abs(math.Log(o.e.a/r.e.a)) > discUnlike {
			return r, "", Refusal{fmt.Sprintf("two round things of unlike size were found, %.0f and %.0f px wide, and it cannot be told which one is the "+
				"disc: leave only the disc of the declared diameter beside the part", 2*r.e.a, 2*o.e.a)}
		}
	}
	if len(whole) > 1 {
		note = fmt.Sprintf("%d discs of the same size were found; the one whose rim is seen best was used", len(whole))
	}
	return r, note, nil
}
