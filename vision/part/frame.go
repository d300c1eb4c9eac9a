package part

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// Image is the upright picture's pixels: 8-bit BGR, row by row.
type Image struct {
	W, H int
	Pix  []byte
}

// sample gives the BGR values at a place between pixels (bilinear); ok is false outside the picture.
func (im *Image) sample(x, y float64) (bgr [3]float32, ok bool) {
	if !(x >= 0 && y >= 0) {
		return bgr, false
	}
	xi, yi := int(x), int(y)
	if xi+1 >= im.W || yi+1 >= im.H {
		return bgr, false
	}
	fx, fy := float32(x-float64(xi)), float32(y-float64(yi))
	i := 3 * (yi*im.W + xi)
	p, q := im.Pix[i:i+6:i+6], im.Pix[i+3*im.W:i+3*im.W+6:i+3*im.W+6]
	a, b, c, d := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
	bgr[0] = a*float32(p[0]) + b*float32(p[3]) + c*float32(q[0]) + d*float32(q[3])
	bgr[1] = a*float32(p[1]) + b*float32(p[4]) + c*float32(q[1]) + d*float32(q[4])
	bgr[2] = a*float32(p[2]) + b*float32(p[5]) + c*float32(q[2]) + d*float32(q[5])
	return bgr, true
}

// Frame is the part's own frame in the world: x along the axis from the wire to the body, y across to the left, z up
// from the conductor's axis; all in millimetres.
type Frame struct {
	Camera scale.Camera
	Origin scale.Vec // on the axis; its Z is the axis' height above the reference
	Angle  float64   // radians, counter-clockwise, of x in the world
}

// World turns a place of the part's frame into the world's.
func (f Frame) World(x, y, z float64) scale.Vec {
	c, s := math.Cos(f.Angle), math.Sin(f.Angle)
	return scale.Vec{X: f.Origin.X + c*x - s*y, Y: f.Origin.Y + s*x + c*y, Z: f.Origin.Z + z}
}

// Pixel gives where a place of the part's frame is seen in the picture.
func (f Frame) Pixel(x, y, z float64) record.Point {
	px, py := f.Camera.Project(f.World(x, y, z))
	return record.Point{X: px, Y: py}
}

// FromPixel gives the place at height z of the part's frame that is seen in the pixel.
func (f Frame) FromPixel(p record.Point, z float64) (x, y float64) {
	w := f.Camera.OnPlane(p.X, p.Y, f.Origin.Z+z)
	return f.Local(w)
}

// turned gives a direction of the world in the frame.
func (f Frame) turned(dx, dy float64) (x, y float64) {
	c, s := math.Cos(f.Angle), math.Sin(f.Angle)
	return c*dx + s*dy, c*dy - s*dx
}

// Moved returns the frame shifted by (x, y) in its own axes and turned by angle (radians) about the new origin.
func (f Frame) Moved(x, y, angle float64) Frame {
	o := f.World(x, y, 0)
	f.Origin = o
	f.Angle += angle
	return f
}

// View gives the slopes under which the place (x, y) at the axis is seen: the part's points that stand z higher look
// shifted by z·alongX in x and z·acrossY in y (small heights).
func (f Frame) View(x, y float64) (alongX, acrossY float64) {
	w := f.World(x, y, 0)
	p := f.Camera.Position()
	dx, dy, dz := w.X-p.X, w.Y-p.Y, p.Z-w.Z
	along, across := f.turned(dx, dy)
	return along / dz, across / dz
}

// Strip is the picture resampled in the part's frame at a height: pixel (i, j) shows x = X0 + i/PPM, y = Y0 - j/PPM
// (so y grows upwards as one looks at it). Values are linear 0..255.
type Strip struct {
	PPM, X0, Y0 float64
	Chan        [3]Plane // B, G, R
}

// NewStrip resamples the picture for x0 <= x <= x1, y0 <= y <= y1 at height z.
func NewStrip(im Image, f Frame, x0, x1, y0, y1, z, ppm float64) *Strip {
	w, h := int((x1-x0)*ppm)+1, int((y1-y0)*ppm)+1
	s := &Strip{PPM: ppm, X0: x0, Y0: y1}
	for c := range s.Chan {
		s.Chan[c] = NewPlane(w, h)
	}
	dx, dy := math.Cos(f.Angle)/ppm, math.Sin(f.Angle)/ppm
	for j := range h {
		row := newRay(f.Camera, f.World(x0, y1-float64(j)/ppm, z), scale.Vec{X: dx, Y: dy})
		for i := range w {
			x, y := row.pixel(float64(i))
			k := j*w + i
			v, _ := im.sample(x, y)
			s.Chan[0].Pix[k], s.Chan[1].Pix[k], s.Chan[2].Pix[k] = v[0], v[1], v[2]
		}
	}
	return s
}

// ray is a straight line of the world with equidistant places on it, as the camera sees it: the camera's own
// coordinates grow evenly along such a line, which makes projecting a whole row of places cheap.
type ray struct {
	x, y, z, dx, dy, dz float64 // place 0 and the step, in the camera's frame, x and y times F
	cx, cy, k           float64 // principal point; K1 / F²
}

func newRay(c scale.Camera, start, step scale.Vec) ray {
	turn := func(k int, v scale.Vec) float64 { return c.R[k][0]*v.X + c.R[k][1]*v.Y + c.R[k][2]*v.Z }
	return ray{
		x: c.F * (turn(0, start) + c.T.X), y: c.F * (turn(1, start) + c.T.Y), z: turn(2, start) + c.T.Z,
		dx: c.F * turn(0, step), dy: c.F * turn(1, step), dz: turn(2, step),
		cx: c.CX, cy: c.CY, k: c.K1 / (c.F * c.F),
	}
}

// pixel gives the pixel in which the i-th place is seen: what Camera.Project gives.
func (r *ray) pixel(i float64) (px, py float64) {
	over := 1 / (r.z + i*r.dz)
	x, y := (r.x+i*r.dx)*over, (r.y+i*r.dy)*over
	d := 1 + r.k*(x*x+y*y)
	return r.cx + x*d, r.cy + y*d
}

// Col and Row give the pixel coordinates of a place.
func (s *Strip) Col(x float64) float64 { return (x - s.X0) * s.PPM }

// Row is the pixel row of y.
func (s *Strip) Row(y float64) float64 { return (s.Y0 - y) * s.PPM }

// X and Y give the place of a pixel.
func (s *Strip) X(col float64) float64 { return s.X0 + col/s.PPM }

// Y is the place of a pixel row.
func (s *Strip) Y(row float64) float64 { return s.Y0 - row/s.PPM }
