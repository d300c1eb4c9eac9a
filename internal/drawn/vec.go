package drawn

import "math"

// vec is a place or direction in millimetres, or a linear RGB colour.
type vec struct{ X, Y, Z float64 }

func (a vec) add(b vec) vec            { return vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a vec) sub(b vec) vec            { return vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a vec) mul(s float64) vec        { return vec{a.X * s, a.Y * s, a.Z * s} }
func (a vec) times(b vec) vec          { return vec{a.X * b.X, a.Y * b.Y, a.Z * b.Z} }
func (a vec) dot(b vec) float64        { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a vec) norm() float64            { return math.Sqrt(a.dot(a)) }
func (a vec) mix(b vec, t float64) vec { return a.mul(1 - t).add(b.mul(t)) }

func (a vec) cross(b vec) vec {
	return vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// unit is the direction of a; of no length at all it is up.
func (a vec) unit() vec {
	n := a.norm()
	if n < 1e-12 {
		return vec{0, 0, 1}
	}
	return a.mul(1 / n)
}

// mirror reflects the direction a at a surface with normal n.
func (a vec) mirror(n vec) vec { return a.sub(n.mul(2 * a.dot(n))) }

// frame is a rotation: the axes of an own frame, in the coordinates of the outer one.
type frame struct{ X, Y, Z vec }

func (f frame) out(v vec) vec { return f.X.mul(v.X).add(f.Y.mul(v.Y)).add(f.Z.mul(v.Z)) }
func (f frame) in(v vec) vec  { return vec{f.X.dot(v), f.Y.dot(v), f.Z.dot(v)} }

// box is an axis-parallel box.
type box struct{ lo, hi vec }

// distance is a lower bound of the distance from p to anything inside the box; 0 inside.
func (b box) distance(p vec) float64 {
	x := max(0, max(b.lo.X-p.X, p.X-b.hi.X))
	y := max(0, max(b.lo.Y-p.Y, p.Y-b.hi.Y))
	z := max(0, max(b.lo.Z-p.Z, p.Z-b.hi.Z))
	return math.Sqrt(x*x + y*y + z*z)
}

// enter gives the stretch of the ray o + t·d that lies in the box.
func (b box) enter(o, d vec) (near, far float64, ok bool) {
	near, far = 0, math.Inf(1)
	for _, s := range [3][4]float64{{o.X, d.X, b.lo.X, b.hi.X}, {o.Y, d.Y, b.lo.Y, b.hi.Y}, {o.Z, d.Z, b.lo.Z, b.hi.Z}} {
		if math.Abs(s[1]) < 1e-12 {
			if s[0] < s[2] || s[0] > s[3] {
				return 0, 0, false
			}
			continue
		}
		t0, t1 := (s[2]-s[0])/s[1], (s[3]-s[0])/s[1]
		if t0 > t1 {
			t0, t1 = t1, t0
		}
		near, far = max(near, t0), min(far, t1)
	}
	return near, far, near < far
}

func (b box) join(c box) box {
	return box{vec{min(b.lo.X, c.lo.X), min(b.lo.Y, c.lo.Y), min(b.lo.Z, c.lo.Z)},
		vec{max(b.hi.X, c.hi.X), max(b.hi.Y, c.hi.Y), max(b.hi.Z, c.hi.Z)}}
}

func clamp(v, lo, hi float64) float64 { return max(lo, min(hi, v)) }

// smooth rises from 0 at a to 1 at b without a kink.
func smooth(a, b, v float64) float64 {
	t := clamp((v-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }

// hash gives a number in [0, 1) that depends on its arguments only.
func hash(seed uint64, x, y int64) float64 {
	h := seed*0x9E3779B97F4A7C15 + uint64(x)*0xBF58476D1CE4E5B9 + uint64(y)*0x94D049BB133111EB
	h ^= h >> 31
	h *= 0xD6E8FEB86659FD93
	h ^= h >> 29
	h *= 0x9FB21C651E98DF25
	h ^= h >> 32
	return float64(h>>11) / (1 << 53)
}

// noise is smooth value noise in [-1, 1] with cells of size 1.
func noise(seed uint64, x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	u, v := x-fx, y-fy
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	i, j := int64(fx), int64(fy)
	a := hash(seed, i, j)*(1-u) + hash(seed, i+1, j)*u
	b := hash(seed, i, j+1)*(1-u) + hash(seed, i+1, j+1)*u
	return 2*(a*(1-v)+b*v) - 1
}

// cloudy sums four octaves of noise; about within [-1, 1].
func cloudy(seed uint64, x, y float64) float64 {
	sum, gain := 0.0, 0.5
	for i := range uint64(4) {
		sum += gain * noise(seed+i, x, y)
		x, y, gain = 2.03*x+7.1, 2.03*y-3.7, gain/2
	}
	return sum
}

// hypot is faster than math.Hypot, which guards against overflow that millimetres never reach.
func hypot(a, b float64) float64 { return math.Sqrt(a*a + b*b) }
