package part

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// Plane is a single-channel picture of float32, row by row.
type Plane struct {
	W, H int
	Pix  []float32
}

// NewPlane returns a plane of zeros.
func NewPlane(w, h int) Plane { return Plane{W: w, H: h, Pix: make([]float32, w*h)} }

// At returns the value at a place between pixels (bilinear); outside it is 0.
func (p Plane) At(x, y float64) float32 {
	xf, yf := math.Floor(x), math.Floor(y)
	xi, yi := int(xf), int(yf)
	if xi < 0 || yi < 0 || xi+1 >= p.W || yi+1 >= p.H {
		return 0
	}
	fx, fy := float32(x-xf), float32(y-yf)
	i := yi*p.W + xi
	top := p.Pix[i] + fx*(p.Pix[i+1]-p.Pix[i])
	bottom := p.Pix[i+p.W] + fx*(p.Pix[i+p.W+1]-p.Pix[i+p.W])
	return top + fy*(bottom-top)
}

// Level is the picture as it would look from straight above, at a fixed number of pixels per millimetre: pixel (i, j)
// shows the world point (X0 + i/PPM, Y0 - j/PPM) at the height for which it was made. Channels hold the logarithm of
// the brightness, in which a shadow's edge and a dark thing's edge count alike. Masked pixels are not to be looked at:
// the scale reference and what lies outside the picture.
type Level struct {
	PPM    float64
	X0, Y0 float64
	Chan   [3]Plane // ln(value + logFloor) of B, G, R
	Masked []bool
}

// logFloor keeps the logarithm calm in black: about the sensor noise of an 8-bit picture's darkest tones.
const logFloor = 12

// logTable is ln(value + logFloor) of 8-bit values.
var logTable = func() (t [256]float32) {
	for i := range t {
		t[i] = float32(math.Log(float64(i) + logFloor))
	}
	return
}()

// gradient gives, at each pixel, the gradient of the channel that changes most (Scharr's kernel), in log units per
// pixel, limited to limit, zero at masked pixels and the rim.
func (l *Level) gradient(limit float64) (gx, gy Plane) {
	w, h := l.Chan[0].W, l.Chan[0].H
	gx, gy = NewPlane(w, h), NewPlane(w, h)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			i := y*w + x
			if l.maskedNear(i) {
				continue
			}
			var bx, by, best float32
			for c := range l.Chan {
				p := l.Chan[c].Pix
				dx := (3*(p[i-w+1]-p[i-w-1]) + 10*(p[i+1]-p[i-1]) + 3*(p[i+w+1]-p[i+w-1])) / 32
				dy := (3*(p[i+w-1]-p[i-w-1]) + 10*(p[i+w]-p[i-w]) + 3*(p[i+w+1]-p[i-w+1])) / 32
				if m := dx*dx + dy*dy; m > best {
					bx, by, best = dx, dy, m
				}
			}
			if m := float32(math.Sqrt(float64(best))); m > float32(limit) {
				bx, by = bx*float32(limit)/m, by*float32(limit)/m
			}
			gx.Pix[i], gy.Pix[i] = bx, by
		}
	}
	return gx, gy
}

// maskedNear tells whether pixel i, which is not on the rim, or one of its eight neighbours is masked.
func (l *Level) maskedNear(i int) bool {
	w := l.Chan[0].W
	for _, k := range []int{i - w - 1, i - w, i - w + 1, i - 1, i, i + 1, i + w - 1, i + w, i + w + 1} {
		if l.Masked[k] {
			return true
		}
	}
	return false
}

// NewLevel makes the level picture of all that is seen of the plane at height z, at ppm pixels per millimetre, leaving
// out what masked says (pixels of the picture). mat is 8-bit BGR.
func NewLevel(mat gocv.Mat, cam scale.Camera, z, ppm float64, masked func(px, py float64) bool) *Level {
	x0, x1, y0, y1 := seen(mat.Cols(), mat.Rows(), cam, z)
	w, h := int((x1-x0)*ppm)+1, int((y1-y0)*ppm)+1
	l := &Level{PPM: ppm, X0: x0, Y0: y1, Masked: make([]bool, w*h)}
	for c := range l.Chan {
		l.Chan[c] = NewPlane(w, h)
	}
	small, factor := reduced(mat, cam, (x0+x1)/2, (y0+y1)/2, z, ppm)
	defer small.Close()
	pix, _ := small.DataPtrUint8()
	im := Image{W: small.Cols(), H: small.Rows(), Pix: pix}
	for j := range h {
		for i := range w {
			px, py := cam.Project(scale.Vec{X: x0 + float64(i)/ppm, Y: y1 - float64(j)/ppm, Z: z})
			v, ok := im.sample((px+0.5)*factor-0.5, (py+0.5)*factor-0.5)
			k := j*w + i
			l.Masked[k] = !ok || masked != nil && masked(px, py)
			for c := range v {
				l.Chan[c].Pix[k] = float32(math.Log(float64(v[c]) + logFloor))
			}
		}
	}
	return l
}

// seen is the world rectangle at height z that the picture shows, limited to a metre for cameras that see far.
func seen(w, h int, cam scale.Camera, z float64) (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for k := range 16 {
		t := float64(k%4) / 4
		px, py := t*float64(w-1), 0.0
		switch k / 4 {
		case 1:
			px, py = float64(w-1), t*float64(h-1)
		case 2:
			px, py = (1-t)*float64(w-1), float64(h-1)
		case 3:
			px, py = 0, (1-t)*float64(h-1)
		}
		p := cam.OnPlane(px, py, z)
		x0, x1, y0, y1 = min(x0, p.X), max(x1, p.X), min(y0, p.Y), max(y1, p.Y)
	}
	return max(x0, -250), min(x1, 250), max(y0, -250), min(y1, 250)
}

// reduced shrinks the picture by area so that it has about 1.5 times the level's resolution: enough to sample from
// without aliasing. The caller closes the result; factor is its size over the picture's.
func reduced(mat gocv.Mat, cam scale.Camera, x, y, z, ppm float64) (small gocv.Mat, factor float64) {
	ax, ay := cam.Project(scale.Vec{X: x - 1, Y: y, Z: z})
	bx, by := cam.Project(scale.Vec{X: x + 1, Y: y, Z: z})
	factor = min(1, 1.5*ppm/(math.Hypot(bx-ax, by-ay)/2))
	small = gocv.NewMat()
	gocv.Resize(mat, &small, image.Pt(int(float64(mat.Cols())*factor+0.5), int(float64(mat.Rows())*factor+0.5)), 0, 0, gocv.InterpolationArea)
	return small, float64(small.Cols()) / float64(mat.Cols())
}

// Polygon tells for pixels whether they lie within the polygon.
func Polygon(corners []record.Point) func(px, py float64) bool {
	return func(px, py float64) bool {
		in := false
		for k, a := range corners {
			b := corners[(k+1)%len(corners)]
			if (a.Y > py) != (b.Y > py) && px < a.X+(py-a.Y)*(b.X-a.X)/(b.Y-a.Y) {
				in = !in
			}
		}
		return in
	}
}
