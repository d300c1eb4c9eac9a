package drawn

import "math"

// Camera is a pinhole with square pixels and one radial distortion term:
//
//	c = R·(w - position); (x, y) = (c.X, c.Y)/c.Z; r² = x²+y²; px = centre + FocalPX·(x, y)·(1 + K1·r²)
//
// Pixels count from the centre of the top left one, x right and y down. With tilt and spin 0 the world's x runs to the
// right in the picture and its y upwards. The principal point is the picture's middle.
type Camera struct {
	DistanceMM float64    // along the optical axis from the card to the lens
	TiltDeg    float64    // between the optical axis and the card's normal
	AzimuthDeg float64    // where the lens stands, seen from above, counted from the world's x to its y
	SpinDeg    float64    // turn about the optical axis
	AimMM      [2]float64 // the place on the card in the picture's middle
	FocalPX    float64
	K1         float64
}

// lens is a camera made ready for a picture's size.
type lens struct {
	f, cx, cy, k1 float64
	axes          frame // camera's right, down and forward in the world
	at            vec
}

func (c Camera) lens(width, height int) lens {
	t, a, s := radians(c.TiltDeg), radians(c.AzimuthDeg), radians(c.SpinDeg)
	back := vec{math.Sin(t) * math.Cos(a), math.Sin(t) * math.Sin(a), math.Cos(t)}
	forward := back.mul(-1)
	right := forward.cross(vec{0, 1, 0}).unit()
	down := forward.cross(right)
	axes := frame{right.mul(math.Cos(s)).add(down.mul(math.Sin(s))), down.mul(math.Cos(s)).sub(right.mul(math.Sin(s))), forward}
	return lens{c.FocalPX, float64(width-1) / 2, float64(height-1) / 2, c.K1, axes,
		vec{c.AimMM[0], c.AimMM[1], 0}.add(back.mul(c.DistanceMM))}
}

// project gives the pixel in which the world point w is seen.
func (l lens) project(w vec) (px, py float64) {
	c := l.axes.in(w.sub(l.at))
	x, y := c.X/c.Z, c.Y/c.Z
	d := 1 + l.k1*(x*x+y*y)
	return l.cx + l.f*x*d, l.cy + l.f*y*d
}

// ray gives the direction in the world that is seen in a pixel. The radial model is inverted by fixed-point iteration,
// which converges quickly where |K1·r²| is small.
func (l lens) ray(px, py float64) vec {
	xd, yd := (px-l.cx)/l.f, (py-l.cy)/l.f
	x, y := xd, yd
	for range 8 {
		d := 1 + l.k1*(x*x+y*y)
		x, y = xd/d, yd/d
	}
	return l.axes.out(vec{x, y, 1}).unit()
}
