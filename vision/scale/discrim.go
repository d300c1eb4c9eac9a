package scale

import (
	"math"
	"math/rand/v2"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/vision/subpixel"
)

const (
	rimStepPX   = 1.     // between the samples of a line across the rim
	rimSoftPX   = 1.2    // smoothing along such a line before edges are taken
	rimLeast    = 1.2    // grey levels a px: the weakest edge
	rimNoise    = 5.     // and how many times the line's grain
	rimCover    = 0.7    // share of the rim that must be seen
	rimTightPX  = 1.5    // edges nearer to an ellipse than this, or than rimTightRel of its size, make up its rim
	rimTightRel = 0.0035 //
	searchLines = 240    // across a rim that is looked at among others
	finalLines  = 720    // across the one that counts
)

// colours is the full picture, 8-bit BGR.
type colours struct {
	w, h int
	v    []uint8
}

func newColours(mat gocv.Mat) (colours, error) {
	v, err := mat.DataPtrUint8()
	return colours{mat.Cols(), mat.Rows(), v}, err
}

func (p colours) inside(c pt, rim float64) bool {
	return c.x >= rim && c.y >= rim && c.x < float64(p.w)-1-rim && c.y < float64(p.h)-1-rim
}

// add adds the bilinear values at c to three sums; the caller keeps inside.
func (p colours) add(c pt, sum *[3]float64) {
	i, j := int(c.x), int(c.y)
	fx, fy := c.x-float64(i), c.y-float64(j)
	o := 3 * (j*p.w + i)
	up, down := p.v[o:o+6:o+6], p.v[o+3*p.w:o+3*p.w+6:o+3*p.w+6]
	for k := range 3 {
		a, b, d, e := float64(up[k]), float64(up[k+3]), float64(down[k]), float64(down[k+3])
		sum[k] += a + fx*(b-a) + fy*(d-a+fx*(a-b-d+e))
	}
}

// rimEdge is a steepest place on a line across a rim: px outwards from the ellipse that the line was laid across, and the
// change of brightness a px there, of the channel that changes most.
type rimEdge struct{ d, slope float64 }

// rimLine is a line across an ellipse's rim with the edges on it, from within outwards.
type rimLine struct {
	t     float64 // parameter of the ellipse
	edges []rimEdge
	out   bool // it leaves the picture
}

// acrossRim reads the picture along lines across an ellipse's rim, reach px to either side.
func (p colours) acrossRim(e ellipse, reach float64, most int) []rimLine {
	n := min(most, int(e.perimeter()/2))
	lines := make([]rimLine, n)
	half := int(math.Ceil(reach/rimStepPX)) + 3
	profile := make([][3]float64, 2*half+1)
	var room edgeRoom
	for k := range lines {
		l := &lines[k]
		l.t = 2 * math.Pi * (float64(k) + 0.5) / float64(n)
		at, normal := e.at(l.t)
		side := pt{-normal.y, normal.x}
		if !p.inside(at.add(normal.mul(float64(half+1))), 3) || !p.inside(at.sub(normal.mul(float64(half+1))), 3) {
			l.out = true
			continue
		}
		for i := range profile {
			c := at.add(normal.mul(float64(i-half) * rimStepPX))
			profile[i] = [3]float64{}
			for _, s := range [3]float64{-1.3, 0, 1.3} {
				p.add(c.add(side.mul(s)), &profile[i])
			}
		}
		l.edges = room.edges(profile, half)
	}
	return lines
}

// rimKernel is half of the derivative of a Gaussian of rimSoftPX, for sums of three samples.
var rimKernel = func() (k [4]float64) {
	sum := 0.
	for i := range k {
		x := float64(i) * rimStepPX
		k[i] = x * math.Exp(-x*x/(2*rimSoftPX*rimSoftPX))
		sum += 2 * x * k[i]
	}
	for i := range k {
		k[i] /= 3 * sum
	}
	return k
}()

// edgeRoom is room for what is worked out of one profile after the other.
type edgeRoom struct {
	slope     [][3]float64
	size, all []float64
}

// edges are the steepest places of a profile; half is the index that the ellipse runs through.
func (r *edgeRoom) edges(profile [][3]float64, half int) []rimEdge {
	const m = len(rimKernel) - 1
	if len(r.slope) != len(profile) {
		*r = edgeRoom{make([][3]float64, len(profile)), make([]float64, len(profile)), nil}
	}
	slope, size, all := r.slope, r.size, r.all[:0]
	for i := m; i < len(profile)-m; i++ {
		var s [3]float64
		for j := 1; j <= m; j++ {
			after, before := &profile[i+j], &profile[i-j]
			for c := range s {
				s[c] += rimKernel[j] * (after[c] - before[c])
			}
		}
		slope[i], size[i] = s, max(math.Abs(s[0]), math.Abs(s[1]), math.Abs(s[2]))
		all = append(all, size[i])
	}
	r.all = all
	slices.Sort(all)
	least := math.Max(rimLeast, math.Min(rimNoise*all[len(all)/4], 0.25*all[len(all)-1]))
	var out []rimEdge
	for i := m + 1; i < len(profile)-m-1; i++ {
		if size[i] < least {
			continue
		}
		c := strongest(slope[i])
		sign := math.Copysign(1, slope[i][c])
		a, b, d := sign*slope[i-1][c], sign*slope[i][c], sign*slope[i+1][c]
		if b < a || b <= d {
			continue
		}
		out = append(out, rimEdge{(float64(i-half) + 0.5*(a-d)/(a-2*b+d)) * rimStepPX, slope[i][c]})
	}
	return out
}

func strongest(v [3]float64) int {
	c := 0
	for k := range v {
		if math.Abs(v[k]) > math.Abs(v[c]) {
			c = k
		}
	}
	return c
}

// rim is an ellipse fitted to the edges along it.
type rim struct {
	e     ellipse
	cover float64 // share of its lines with an edge on it
	out   float64 // share of its lines that leave the picture
	sd    float64 // px, robust scatter of the edges about it
	used  []rimPoint
}

// rimPoint is a place on the rim, with the unit vector across it.
type rimPoint struct {
	p, n  pt
	d     float64 // px from the fitted ellipse
	slope float64
}

// ripple is how far another ellipse lies outside of the one that the lines cross: to first order a constant, a shift and
// a change of shape.
type ripple [5]float64

func harmonics(t float64) [5]float64 {
	s, c := math.Sincos(t)
	return [5]float64{1, c, s, c*c - s*s, 2 * s * c}
}

func (r ripple) at(h [5]float64) float64 {
	return r[0]*h[0] + r[1]*h[1] + r[2]*h[2] + r[3]*h[3] + r[4]*h[4]
}

// ripples are the ellipses near the given one along which the most edges lie, found by trials with five edges each, one
// from each fifth of the rim (RANSAC, Fischler and Bolles 1981).
func ripples(lines []rimLine, tight float64, random *rand.Rand) []ripple {
	const trials, kept = 1500, 9
	type found struct {
		r ripple
		n int
	}
	var best []found
	fifth := len(lines) / 5
	hs := make([][5]float64, len(lines))
	for i := range lines {
		hs[i] = harmonics(lines[i].t)
	}
	for range trials {
		var m [5][6]float64
		ok := true
		start := random.IntN(len(lines))
		for k := range 5 {
			i := (start + k*fifth + random.IntN(fifth)) % len(lines)
			if len(lines[i].edges) == 0 {
				ok = false
				break
			}
			copy(m[k][:5], hs[i][:])
			m[k][5] = lines[i].edges[random.IntN(len(lines[i].edges))].d
		}
		if !ok {
			continue
		}
		r, ok := solve5(&m)
		if !ok {
			continue
		}
		n := 0
		for i := range lines {
			d := r.at(hs[i])
			for _, e := range lines[i].edges {
				if math.Abs(e.d-d) < tight {
					n++
					break
				}
			}
		}
		if float64(n) < discArc*float64(len(lines)) {
			continue
		}
		same := slices.IndexFunc(best, func(f found) bool { return f.r.near(r, tight) })
		if same >= 0 {
			if n > best[same].n {
				best[same] = found{r, n}
			}
			continue
		}
		best = append(best, found{r, n})
	}
	slices.SortFunc(best, func(a, b found) int { return b.n - a.n })
	var out []ripple
	for _, f := range best[:min(len(best), kept)] {
		out = append(out, f.r)
	}
	return out
}

func (r ripple) near(o ripple, reach float64) bool {
	for k := range 12 {
		h := harmonics(float64(k) * math.Pi / 6)
		if math.Abs(r.at(h)-o.at(h)) > reach {
			return false
		}
	}
	return true
}

// solve5 solves five linear equations by elimination with pivots.
func solve5(m *[5][6]float64) (r ripple, ok bool) {
	for c := range 5 {
		p := c
		for k := c + 1; k < 5; k++ {
			if math.Abs(m[k][c]) > math.Abs(m[p][c]) {
				p = k
			}
		}
		if math.Abs(m[p][c]) < 1e-3 {
			return r, false
		}
		m[c], m[p] = m[p], m[c]
		for k := range 5 {
			if k != c {
				f := m[k][c] / m[c][c]
				for l := c; l < 6; l++ {
					m[k][l] -= f * m[c][l]
				}
			}
		}
	}
	for c := range 5 {
		r[c] = m[c][5] / m[c][c]
	}
	return r, true
}

// rippled is the ellipse that lies a ripple outside of another one.
func (e ellipse) rippled(r ripple) (ellipse, bool) {
	var points []pt
	for k := range 48 {
		t := 2 * math.Pi * float64(k) / 48
		p, n := e.at(t)
		points = append(points, p.add(n.mul(r.at(harmonics(t)))))
	}
	return fitConic(points, nil)
}

// rimAt fits an ellipse to the edges nearest to a given one, in rounds with a shrinking reach; in the last rounds with
// Tukey's weights. most is how many lines are laid across the rim at most.
func (p colours) rimAt(e ellipse, most int) (rim, bool) {
	tight := math.Max(rimTightPX, rimTightRel*e.a)
	for _, reach := range []float64{3 * tight, 1.5 * tight, tight} {
		r := p.rimPoints(e, reach, most)
		if len(r.used) < 24 || r.cover < discArc {
			return r, false
		}
		next, ok := r.fit()
		if !ok {
			return r, false
		}
		e = next
	}
	r := p.rimPoints(e, tight, most)
	return r, len(r.used) >= 24
}

// rimPoints are the edges nearest to an ellipse, no further off than reach.
func (p colours) rimPoints(e ellipse, reach float64, most int) rim {
	r := rim{e: e}
	lines := p.acrossRim(e, reach+2, most)
	var off []float64
	for _, l := range lines {
		best := rimEdge{d: reach}
		for _, g := range l.edges {
			if math.Abs(g.d) < math.Abs(best.d) {
				best = g
			}
		}
		if l.out {
			r.out += 1 / float64(len(lines))
		}
		if math.Abs(best.d) < reach {
			at, n := e.at(l.t)
			r.used = append(r.used, rimPoint{at.add(n.mul(best.d)), n, best.d, best.slope})
			off = append(off, best.d)
		}
	}
	r.cover = float64(len(r.used)) / float64(len(lines))
	r.sd = subpixel.MAD(off)
	return r
}

// fit is the ellipse through the rim's points, with Tukey's biweight.
func (r rim) fit() (ellipse, bool) {
	points, weights := make([]pt, len(r.used)), make([]float64, len(r.used))
	limit := 4.685 * math.Max(r.sd, 0.15)
	for i, q := range r.used {
		points[i] = q.p
		if u := q.d / limit; math.Abs(u) < 1 {
			weights[i] = (1 - u*u) * (1 - u*u)
		}
	}
	return fitConic(points, weights)
}

// rimsNear are the rims about a round thing that was found in the reduced picture: a disc's own, its shadow's, its
// lower edge's, those of its relief.
func (p colours) rimsNear(e ellipse, random *rand.Rand) []rim {
	tight := math.Max(rimTightPX, rimTightRel*e.a)
	reach := math.Max(8, 0.16*e.a)
	var out []rim
	for _, r := range ripples(p.acrossRim(e, reach, 150), 1.3*tight, random) {
		near, ok := e.rippled(r)
		if !ok {
			continue
		}
		found, ok := p.rimAt(near, searchLines)
		if ok && !slices.ContainsFunc(out, func(o rim) bool { return o.e.same(found.e, tight) }) {
			out = append(out, found)
		}
	}
	return out
}
