package scale

import "math"

// Vec is a place or a direction in millimetres. World frame: the reference's plane is z = 0, z grows towards the
// camera, the origin is the reference's middle. Seen from the camera x, y, z are right-handed (y is up where x is right).
type Vec struct{ X, Y, Z float64 }

// Camera is a pinhole with square pixels, one radial distortion term and a pose over the reference. Pixels count from
// the centre of the top left one, x right and y down.
//
//	c = R·w + T;  (x, y) = (c.X, c.Y)/c.Z;  r² = x²+y²;  px = C + F·(x, y)·(1 + K1·r²)
type Camera struct {
	F, CX, CY float64       // px
	K1        float64       // on the normalised plane
	R         [3][3]float64 // world -> camera
	T         Vec           // mm
}

// Project gives the pixel in which the world point w is seen.
func (c Camera) Project(w Vec) (px, py float64) {
	x := c.R[0][0]*w.X + c.R[0][1]*w.Y + c.R[0][2]*w.Z + c.T.X
	y := c.R[1][0]*w.X + c.R[1][1]*w.Y + c.R[1][2]*w.Z + c.T.Y
	z := c.R[2][0]*w.X + c.R[2][1]*w.Y + c.R[2][2]*w.Z + c.T.Z
	x, y = x/z, y/z
	d := 1 + c.K1*(x*x+y*y)
	return c.CX + c.F*x*d, c.CY + c.F*y*d
}

// undistort inverts the radial model by fixed-point iteration; it converges where |K1·r²| is small, as in phones.
func (c Camera) undistort(px, py float64) (x, y float64) {
	xd, yd := (px-c.CX)/c.F, (py-c.CY)/c.F
	x, y = xd, yd
	for range 12 {
		d := 1 + c.K1*(x*x+y*y)
		u, v := xd/d, yd/d
		if u == x && v == y {
			break // it has settled to the last bit
		}
		x, y = u, v
	}
	return x, y
}

// OnPlane gives the world point at height z (mm above the reference) that is seen in the pixel.
func (c Camera) OnPlane(px, py, z float64) Vec {
	x, y := c.undistort(px, py)
	d := c.toWorld(Vec{x, y, 1})
	p := c.Position()
	s := (z - p.Z) / d.Z
	return Vec{p.X + s*d.X, p.Y + s*d.Y, z}
}

// toWorld turns a direction of the camera's frame into the world's.
func (c Camera) toWorld(v Vec) Vec {
	return Vec{
		c.R[0][0]*v.X + c.R[1][0]*v.Y + c.R[2][0]*v.Z,
		c.R[0][1]*v.X + c.R[1][1]*v.Y + c.R[2][1]*v.Z,
		c.R[0][2]*v.X + c.R[1][2]*v.Y + c.R[2][2]*v.Z,
	}
}

// Position is the camera's centre in the world; its Z is the distance from the reference's plane.
func (c Camera) Position() Vec {
	p := c.toWorld(c.T)
	return Vec{-p.X, -p.Y, -p.Z}
}

// TiltDeg is the angle between the optical axis and the reference's normal.
func (c Camera) TiltDeg() float64 {
	return math.Acos(math.Min(1, math.Abs(c.R[2][2]))) * 180 / math.Pi
}

// ViewDirection is the unit vector from a world point to the camera.
func (c Camera) ViewDirection(at Vec) Vec { return c.Position().sub(at).unit() }

// mmPerPX is the local scale at a pixel for things at height z: the geometric mean of the two directions.
func (c Camera) mmPerPX(px, py, z float64) float64 {
	const h = 0.5
	a := c.OnPlane(px+h, py, z).sub(c.OnPlane(px-h, py, z))
	b := c.OnPlane(px, py+h, z).sub(c.OnPlane(px, py-h, z))
	return math.Sqrt(a.cross(b).norm())
}

func (v Vec) add(w Vec) Vec     { return Vec{v.X + w.X, v.Y + w.Y, v.Z + w.Z} }
func (v Vec) sub(w Vec) Vec     { return Vec{v.X - w.X, v.Y - w.Y, v.Z - w.Z} }
func (v Vec) mul(f float64) Vec { return Vec{v.X * f, v.Y * f, v.Z * f} }
func (v Vec) norm() float64     { return math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z) }
func (v Vec) unit() Vec         { return v.mul(1 / v.norm()) }
func (v Vec) cross(w Vec) Vec {
	return Vec{v.Y*w.Z - v.Z*w.Y, v.Z*w.X - v.X*w.Z, v.X*w.Y - v.Y*w.X}
}
