package scale

import (
	"math"
	"slices"
)

// What is assumed of discs and of people who photograph them: common practice, no source. A disc's edge is broken, so the
// half-way brightness at its rim may lie inside of the diameter that a caliper reads; a narrow side wall that runs into one with the face
// lies outside of it. Which of them it is changes with the light.
const (
	rimUMM       = 0.025 // standard deviation of the rim's place from that, the part alike all round
	rimShapeMM   = 0.028 // and the part that looks like a tilt
	rimSharePX   = 0.15  // what blur and a picture's tone curve move the rim by
	rimFreeLines = 4.    // so many neighbouring lines err alike
	priorTiltDeg = 8.    // of the phone in each direction: Student's t of priorTiltN degrees of freedom, standard deviation
	priorTiltN   = 4.    // about 10 degrees, with more weight than a normal one for phones held carelessly
	discThickMM  = 1.8   // coins and washers of 15 to 30 mm
	discUThickMM = 0.5   //
)

// onCircle is a place on a disc's rim. The misfit is square to the rim.
type onCircle struct {
	radiusMM float64
	p, n     pt // where it was seen; unit vector across the rim
}

func (onCircle) numbers() int { return 1 }
func (o onCircle) at() pt     { return o.p }

func (o onCircle) misfit(c Camera, out []float64) {
	w := c.OnPlane(o.p.x, o.p.y, 0)
	x, y := c.Project(w.mul(o.radiusMM / math.Max(w.norm(), 1e-6)))
	out[0] = (x-o.p.x)*o.n.x + (y-o.p.y)*o.n.y
}

// view is a camera that would show the same within errors, and how probable it is.
type view struct {
	cam    Camera
	weight float64
}

// elsewhere is the standard uncertainty of a quantity of the camera that stems from views that differ by more than small
// changes, such as the two from which a disc looks the same: half of what 95 % of them stay within, by their weights.
func (f *poseFit) elsewhere(of func(Camera) float64) float64 {
	if len(f.views) == 0 {
		return 0
	}
	type off struct{ d, w float64 }
	here := of(f.cam)
	all := make([]off, len(f.views))
	for i, v := range f.views {
		all[i] = off{math.Abs(of(v.cam) - here), v.weight}
	}
	slices.SortFunc(all, func(a, b off) int { return int(math.Copysign(1, b.d-a.d)) })
	const normal95 = 1.96
	left := 0.05
	for _, o := range all { // from the largest down, until 5 % are used up
		if left -= o.w; left <= 0 {
			return o.d / normal95
		}
	}
	return 0
}

// tangent is the picture as seen along the ray through a disc's middle: the plane square to that ray at distance 1, x as
// nearly the picture's right as can be. A circle that faces the camera is a circle there.
type tangent struct {
	x, y, ray Vec
}

func newTangent(ray Vec) tangent {
	ray = ray.unit()
	x := Vec{1, 0, 0}.sub(ray.mul(ray.X)).unit()
	return tangent{x, ray.cross(x), ray}
}

func (v Vec) dot(w Vec) float64 { return v.X*w.X + v.Y*w.Y + v.Z*w.Z }

// pixel gives a pixel's place there.
func (g tangent) pixel(c Camera, p pt) pt {
	x, y := c.undistort(p.x, p.y)
	d := Vec{x, y, 1}
	z := d.dot(g.ray)
	return pt{d.dot(g.x) / z, d.dot(g.y) / z}
}

// lean is the direction of a camera's reference plane there: the two components of its normal, (0, 0) where it faces the camera.
func (g tangent) lean(c Camera) pt {
	n := Vec{c.R[0][2], c.R[1][2], c.R[2][2]}
	return pt{n.dot(g.x), n.dot(g.y)}
}

// camera is the given one moved so that the disc leans as said and looks as large as the ellipse in the tangent plane.
func (g tangent) camera(c Camera, lean pt, look ellipse, radiusMM float64) Camera {
	up := math.Sqrt(math.Max(0, 1-lean.x*lean.x-lean.y*lean.y))
	n := g.x.mul(lean.x).add(g.y.mul(lean.y)).sub(g.ray.mul(up))
	x := Vec{1, 0, 0}.sub(n.mul(n.X)).unit()
	y := n.cross(x)
	c.R = [3][3]float64{{x.X, y.X, n.X}, {x.Y, y.Y, n.Y}, {x.Z, y.Z, n.Z}}
	z := radiusMM / look.a
	at := Vec{look.c.x, look.c.y, 1}
	const places = 16
	for range 4 { // the projected circle's mean distance from the look, and its shift, are taken out
		size, shift := 0., pt{}
		for k := range places {
			s, co := math.Sincos(2 * math.Pi * float64(k) / places)
			w := x.mul(radiusMM * co).add(y.mul(radiusMM * s))
			q := Vec{w.dot(g.x), w.dot(g.y), w.dot(g.ray)}.add(at.mul(z))
			d, m := look.distance(pt{q.X / q.Z, q.Y / q.Z})
			size += d / places
			shift = shift.add(m.mul(2 * d / places))
		}
		z *= 1 + size/look.a
		at.X, at.Y = at.X-shift.x, at.Y-shift.y
	}
	c.T = g.x.mul(at.X).add(g.y.mul(at.Y)).add(g.ray.mul(at.Z)).mul(z)
	return c
}

// discFit is the camera that a disc's rim implies, with all the views that it leaves open.
func discFit(r rim, wall wallLook, diameterMM, focalPX float64, size [2]int) (*poseFit, error) {
	radius := diameterMM / 2
	f := &poseFit{name: "disc", focalPX: focalPX, sigma: 0.1, size: size, flatMM: flatnessMM}
	f.seen = r.evidence(radius)
	c := Camera{F: focalPX, CX: float64(size[0]-1) / 2, CY: float64(size[1]-1) / 2}
	if focalPX <= 0 {
		c.F = priorDistanceMM * (r.e.a + r.e.b) / 2 / radius
	}
	x, y := c.undistort(r.e.c.x, r.e.c.y)
	g := newTangent(Vec{x, y, 1})
	var rimThere []pt
	for k := range 36 {
		p, _ := r.e.at(float64(k) * math.Pi / 18)
		rimThere = append(rimThere, g.pixel(c, p))
	}
	look, ok := fitConic(rimThere, nil)
	if !ok {
		return nil, Refusal{"the disc's rim is no ellipse: lay the disc flat, uncovered, and take it sharp"}
	}
	pxMM := radius / (r.e.a + r.e.b) * 2
	f.share = math.Hypot(rimUMM, rimSharePX*pxMM) / radius
	f.views = weighed(g.views(c, look, radius, r.shapeU(c, look, radius)), wall)
	lean := bestLean(g, f.views)
	f.cam = g.camera(c, lean, look, radius)
	f.hold(g, lean)
	f.minimise()
	f.estimateSigma()
	return f, f.covariance()
}

// evidence are the means of the rim's points over short stretches.
func (r rim) evidence(radiusMM float64) []evidence {
	const stretches = 72
	var sum [stretches]rimPoint
	var n [stretches]float64
	for _, q := range r.used {
		v := q.p.sub(r.e.c)
		k := int((math.Atan2(v.y, v.x)/(2*math.Pi)+1)*stretches) % stretches
		sum[k].p, sum[k].n = sum[k].p.add(q.p), sum[k].n.add(q.n)
		n[k]++
	}
	var out []evidence
	for k := range sum {
		if n[k] > 0 {
			out = append(out, onCircle{radiusMM, sum[k].p.mul(1 / n[k]), sum[k].n.mul(1 / sum[k].n.norm())})
		}
	}
	return out
}

// shapeU is the standard uncertainty of a rim's shape, as a share of its size: of half the difference of its half axes.
func (r rim) shapeU(c Camera, look ellipse, radiusMM float64) float64 {
	grain := r.sd * math.Sqrt(2*rimFreeLines/float64(len(r.used))) / r.e.a
	off := math.Hypot((r.e.c.x-c.CX)/c.F, (r.e.c.y-c.CY)/c.F)
	distorted := priorK1 * off * off // radial and tangential scale differ by twice that
	return math.Sqrt(grain*grain + rimShapeMM*rimShapeMM/(radiusMM*radiusMM) + distorted*distorted)
}

// views are the cameras that show the disc so. The shape of the ellipse is measured as sin²(tilt), in the direction of twice
// the tilt's angle: a vector with like errors in both directions. Each such vector has two opposite tilts, which no disc
// tells apart. The weights are the measured shape's density times the assumption on the phone's tilt, both over tilts, so
// that small tilts, of which the shape tells little, get their due.
func (g tangent) views(c Camera, look ellipse, radiusMM, shapeU float64) []view {
	const half, reach = 5, 2.5 // grid: steps to either side, and the last one in standard deviations
	q := look.b / look.a
	s2, c2 := math.Sincos(2 * (look.turn + math.Pi/2))
	shape := pt{c2, s2}.mul(1 - q*q)
	u := 4 * shapeU
	step := reach * u / half
	mean := (look.a + look.b) / 2
	var out []view
	sum := 0.
	for i := -half; i <= half; i++ {
		for j := -half; j <= half; j++ {
			v := shape.add(pt{float64(i), float64(j)}.mul(step))
			size := math.Min(v.norm(), 0.98)
			flat := math.Sqrt(1 - size)
			l := ellipse{look.c, 2 * mean / (1 + flat), 2 * mean * flat / (1 + flat), math.Atan2(v.y, v.x)/2 - math.Pi/2}
			sin, cos := math.Sincos(math.Atan2(v.y, v.x) / 2)
			r2 := float64(i*i+j*j) * step * step / (u * u)
			weight := math.Exp(-r2/2) / math.Max(size, 0.4*step)
			for _, sign := range [2]float64{1, -1} {
				cam := g.camera(c, pt{cos, sin}.mul(sign*math.Sqrt(size)), l, radiusMM)
				tilt := cam.TiltDeg() / priorTiltDeg
				w := weight * math.Pow(1+tilt*tilt/priorTiltN, -(priorTiltN+2)/2)
				out = append(out, view{cam, w})
				sum += w
			}
		}
	}
	for i := range out {
		out[i].weight /= sum
	}
	return out
}

// weighed are the views with their weights times the odds that the side wall gives.
func weighed(views []view, wall wallLook) []view {
	sum := 0.
	for i := range views {
		views[i].weight *= wall.odds(views[i].cam)
		sum += views[i].weight
	}
	for i := range views {
		views[i].weight /= sum
	}
	return views
}

// bestLean is the mean lean of the views, or of the more probable one of their two opposite groups where these stand apart.
func bestLean(g tangent, views []view) pt {
	var xx, xy, yy float64
	for _, v := range views {
		l := g.lean(v.cam)
		xx, xy, yy = xx+v.weight*l.x*l.x, xy+v.weight*l.x*l.y, yy+v.weight*l.y*l.y
	}
	sin, cos := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	var mean, of [2]float64
	var sum [2]pt
	var all pt
	for _, v := range views {
		l := g.lean(v.cam)
		along := l.x*cos + l.y*sin
		k := 0
		if along < 0 {
			k = 1
		}
		of[k] += v.weight
		mean[k] += v.weight * math.Abs(along)
		sum[k] = sum[k].add(l.mul(v.weight))
		all = all.add(l.mul(v.weight))
	}
	k := 0
	if of[1] > of[0] {
		k = 1
	}
	middle := mean[k] / of[k]
	spread := 0.
	for _, v := range views {
		l := g.lean(v.cam)
		if along := l.x*cos + l.y*sin; (along < 0) == (k == 1) {
			spread += v.weight / of[k] * (math.Abs(along) - middle) * (math.Abs(along) - middle)
		}
	}
	if of[1-k] > 0 && middle < 2*math.Sqrt(spread) {
		return all
	}
	return sum[k].mul(1 / of[k])
}

// hold ties what the views stand for, the lean, and what is not asked for, the turn of the disc about its middle.
func (f *poseFit) hold(g tangent, lean pt) {
	const tie = 1e-4
	turn := f.cam.R[0][1]
	ray := f.cam.T
	f.assumed = append(f.assumed,
		func(c Camera) float64 { return (newTangent(c.T).lean(c).x - newTangent(ray).lean(f.cam).x) / tie },
		func(c Camera) float64 { return (newTangent(c.T).lean(c).y - newTangent(ray).lean(f.cam).y) / tie },
		func(c Camera) float64 { return (c.R[0][1] - turn) / tie })
}
