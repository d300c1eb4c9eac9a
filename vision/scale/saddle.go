package scale

import (
	"image"
	"math"
	"sort"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
)

// pt is a place in a picture, in pixels of that picture.
type pt struct{ x, y float64 }

func (p pt) add(q pt) pt        { return pt{p.x + q.x, p.y + q.y} }
func (p pt) sub(q pt) pt        { return pt{p.x - q.x, p.y - q.y} }
func (p pt) mul(f float64) pt   { return pt{p.x * f, p.y * f} }
func (p pt) cross(q pt) float64 { return p.x*q.y - p.y*q.x }
func (p pt) dist(q pt) float64  { return math.Hypot(p.x-q.x, p.y-q.y) }
func (p pt) norm() float64      { return math.Hypot(p.x, p.y) }

// saddle is a place where four fields of alternating brightness may meet.
type saddle struct {
	at       pt
	strength float64    // minus the determinant of the Hessian
	white    float64    // direction of the bright fields' diagonal, radians modulo pi
	edges    [2]float64 // directions of the two edges that cross here, radians modulo pi
}

// plane32 is a picture of single precision grey values, row by row.
type plane32 struct {
	w, h int
	v    []float32
}

func (p plane32) at(x, y float64) float64 {
	i, j := int(x), int(y)
	fx, fy := x-float64(i), y-float64(j)
	o := j*p.w + i
	a, b, c, d := float64(p.v[o]), float64(p.v[o+1]), float64(p.v[o+p.w]), float64(p.v[o+p.w+1])
	return a + fx*(b-a) + fy*(c-a+fx*(a-b-c+d))
}

const (
	ringRadius  = 5  // px of the reduced picture; squares must be a little larger than this
	ringSamples = 32 // samples on the ring
	hessianStep = 2  // px, the step of the second differences
	minSaddle   = 20 // grey levels squared: fields that differ by some 20 levels
	maxSaddles  = 4000
	minContrast = 14. // grey levels between bright and dark on the ring
)

// findSaddles looks for saddle points of brightness in a picture whose long side is reduced to at most side pixels. Places
// are in pixels of the reduced picture.
func findSaddles(grey gocv.Mat, side float64) (found []saddle, shrink float64, err error) {
	small, shrink, err := shrunk(grey, side)
	defer func() { _ = small.Close() }()
	if err != nil {
		return nil, shrink, err
	}
	small.ConvertTo(&small, gocv.MatTypeCV32F)
	if err := cvx.GaussianBlur(small, &small, image.Pt(7, 7), 1.2, 1.2, gocv.BorderReplicate); err != nil {
		return nil, shrink, err
	}
	data, err := small.DataPtrFloat32()
	if err != nil {
		return nil, shrink, err
	}
	return plane32{small.Cols(), small.Rows(), data}.saddles(), shrink, nil
}

// saddles keeps the local maxima of the saddle response whose surroundings look like four alternating fields.
func (p plane32) saddles() []saddle {
	s := p.response()
	const rim = ringRadius + 2
	const near = 3
	var found []saddle
	for y := rim; y < p.h-rim; y++ {
		for x := rim; x < p.w-rim; x++ {
			v := s[y*p.w+x]
			if v < minSaddle || !isPeak(s, p.w, x, y, near) {
				continue
			}
			found = append(found, saddle{at: pt{float64(x), float64(y)}, strength: float64(v)})
		}
	}
	sort.Slice(found, func(i, j int) bool { return found[i].strength > found[j].strength })
	if len(found) > maxSaddles {
		found = found[:maxSaddles]
	}
	kept := found[:0]
	for _, c := range found {
		c.at = p.stationary(c.at)
		if p.ring(&c) {
			kept = append(kept, c)
		}
	}
	return kept
}

// response is minus the determinant of the Hessian: large and positive where brightness forms a saddle.
func (p plane32) response() []float32 {
	const k = hessianStep
	out := make([]float32, len(p.v))
	w := p.w
	for y := k; y < p.h-k; y++ {
		up, mid, down := p.v[(y-k)*w:(y-k+1)*w], p.v[y*w:(y+1)*w], p.v[(y+k)*w:(y+k+1)*w]
		row := out[y*w : (y+1)*w]
		for x := k; x < w-k; x++ {
			c := 2 * mid[x]
			xx := mid[x-k] - c + mid[x+k]
			yy := up[x] - c + down[x]
			xy := (down[x+k] - down[x-k] - up[x+k] + up[x-k]) / 4
			row[x] = xy*xy - xx*yy
		}
	}
	return out
}

func isPeak(s []float32, w, x, y, near int) bool {
	v := s[y*w+x]
	for dy := -near; dy <= near; dy++ {
		row := s[(y+dy)*w+x-near : (y+dy)*w+x+near+1]
		for i, o := range row {
			if o > v || o == v && (dy < 0 || dy == 0 && i < near) {
				return false
			}
		}
	}
	return true
}

// stationary moves a saddle to where the gradient of the local quadratic surface vanishes.
func (p plane32) stationary(c pt) pt {
	const k = hessianStep
	o := int(c.y)*p.w + int(c.x)
	v := func(dx, dy int) float64 { return float64(p.v[o+dy*p.w+dx]) }
	gx, gy := (v(k, 0)-v(-k, 0))/(2*k), (v(0, k)-v(0, -k))/(2*k)
	xx, yy := (v(k, 0)-2*v(0, 0)+v(-k, 0))/(k*k), (v(0, k)-2*v(0, 0)+v(0, -k))/(k*k)
	xy := (v(k, k) - v(-k, k) - v(k, -k) + v(-k, -k)) / (4 * k * k)
	det := xx*yy - xy*xy
	if det >= 0 {
		return c
	}
	dx, dy := -(yy*gx-xy*gy)/det, -(xx*gy-xy*gx)/det
	if math.Abs(dx) > 1.5 || math.Abs(dy) > 1.5 {
		return c
	}
	return pt{c.x + dx, c.y + dy}
}

// ring samples a circle round the saddle and accepts it if brightness crosses its middle level exactly four times,
// at opposite places, with the second harmonic in command. It notes the edges' and the bright fields' directions.
func (p plane32) ring(c *saddle) bool {
	if c.at.x < ringRadius+1 || c.at.y < ringRadius+1 ||
		c.at.x > float64(p.w-ringRadius-3) || c.at.y > float64(p.h-ringRadius-3) {
		return false
	}
	var v [ringSamples]float64
	low, high, mean := math.Inf(1), math.Inf(-1), 0.
	for i := range v {
		v[i] = p.at(c.at.x+ringRadius*ringCos[i], c.at.y+ringRadius*ringSin[i])
		low, high, mean = math.Min(low, v[i]), math.Max(high, v[i]), mean+v[i]/ringSamples
	}
	if high-low < minContrast {
		return false
	}
	var total, even, re, im float64
	for i := range v {
		total += (v[i] - mean) * (v[i] - mean)
		s := (v[i]+v[(i+ringSamples/2)%ringSamples])/2 - mean
		even += s * s
		re += (v[i] - mean) * ringCos[(2*i)%ringSamples]
		im += (v[i] - mean) * ringSin[(2*i)%ringSamples]
	}
	second := 2 * (re*re + im*im) / ringSamples
	if even < 0.75*total || second < 0.5*total {
		return false
	}
	c.white = math.Mod(math.Atan2(im, re)/2+math.Pi, math.Pi)
	return ringEdges(&v, (low+high)/2, c)
}

func ringEdges(v *[ringSamples]float64, middle float64, c *saddle) bool {
	var at [5]float64
	n := 0
	for i := range v {
		a, b := v[i]-middle, v[(i+1)%ringSamples]-middle
		if (a < 0) == (b < 0) {
			continue
		}
		if n == 4 {
			return false
		}
		at[n] = (float64(i) + a/(a-b)) * 2 * math.Pi / ringSamples
		n++
	}
	if n != 4 || math.Abs(at[2]-at[0]-math.Pi) > 0.5 || math.Abs(at[3]-at[1]-math.Pi) > 0.5 {
		return false
	}
	c.edges = [2]float64{(at[0] + at[2] - math.Pi) / 2, (at[1] + at[3] - math.Pi) / 2}
	return true
}

var ringCos, ringSin = func() (c, s [ringSamples]float64) {
	for i := range c {
		s[i], c[i] = math.Sincos(2 * math.Pi * float64(i) / ringSamples)
	}
	return
}()

// between is the angle between two undirected lines, 0..pi/2.
func between(a, b float64) float64 {
	d := math.Mod(math.Abs(a-b), math.Pi)
	return math.Min(d, math.Pi-d)
}
