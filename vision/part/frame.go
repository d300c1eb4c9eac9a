package part

import (
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// Image is the upright picture's pixels: 8-bit BGR, row by row.
type Image struct {
	W, H int
	Pix  []byte
}

// sample gives the BGR values at a place between pixels (bilinear); ok is false outside the picture.
func (im Image) sample(x, y float64) (bgr [3]float32, ok bool) {
	xf, yf := math.Floor(x), math.Floor(y)
	xi, yi := int(xf), int(yf)
	if xi < 0 || yi < 0 || xi+1 >= im.W || yi+1 >= im.H {
		return bgr, false
	}
	fx, fy := float32(x-xf), float32(y-yf)
	i := 3 * (yi*im.W + xi)
	p, q := im.Pix[i:i+6:i+6], im.Pix[i+3*im.W:i+3*im.W+6:i+3*im.W+6]
	for c := range 3 {
		top := float32(p[c]) + fx*(float32(p[c+3])-float32(p[c]))
		bottom := float32(q[c]) + fx*(float32(q[c+3])-float32(q[c]))
		bgr[c] = top + fy*(bottom-top)
	}
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
	c, s := math.Cos(f.Angle), math.Sin(f.Angle)
	dx, dy := w.X-f.Origin.X, w.Y-f.Origin.Y
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
	c, s := math.Cos(f.Angle), math.Sin(f.Angle)
	return (c*dx + s*dy) / dz, (c*dy - s*dx) / dz
}

// Strip is the picture resampled in the part's frame at a height: pixel (i, j) shows x = X0 + i/PPM, y = Y0 - j/PPM
// (so y grows upwards as one looks at it). Values are linear 0..255.
type Strip struct {
	PPM, X0, Y0 float64
	Chan        [3]Plane // B, G, R
	Inside      []bool   // false where the picture ends
}

// NewStrip resamples the picture for x0 <= x <= x1, y0 <= y <= y1 at height z.
func NewStrip(im Image, f Frame, x0, x1, y0, y1, z, ppm float64) *Strip {
	w, h := int((x1-x0)*ppm)+1, int((y1-y0)*ppm)+1
	s := &Strip{PPM: ppm, X0: x0, Y0: y1, Inside: make([]bool, w*h)}
	for c := range s.Chan {
		s.Chan[c] = NewPlane(w, h)
	}
	for j := range h {
		for i := range w {
			p := f.Pixel(x0+float64(i)/ppm, y1-float64(j)/ppm, z)
			v, ok := im.sample(p.X, p.Y)
			k := j*w + i
			s.Inside[k] = ok
			for c := range v {
				s.Chan[c].Pix[k] = v[c]
			}
		}
	}
	return s
}

// Col and Row give the pixel coordinates of a place.
func (s *Strip) Col(x float64) float64 { return (x - s.X0) * s.PPM }

// Row is the pixel row of y.
func (s *Strip) Row(y float64) float64 { return (s.Y0 - y) * s.PPM }

// X and Y give the place of a pixel.
func (s *Strip) X(col float64) float64 { return s.X0 + col/s.PPM }

// Y is the place of a pixel row.
func (s *Strip) Y(row float64) float64 { return s.Y0 - row/s.PPM }

// Mat is the strip as an 8-bit BGR picture, for looking at. The caller closes it.
func (s *Strip) Mat() gocv.Mat {
	w, h := s.Chan[0].W, s.Chan[0].H
	m := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8UC3)
	pix, err := m.DataPtrUint8()
	if err != nil {
		return m
	}
	for i := range w * h {
		for c := range s.Chan {
			pix[3*i+c] = uint8(max(0, min(255, s.Chan[c].Pix[i]+0.5)))
		}
	}
	return m
}
