package part

import (
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
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
	Chan   [3]Plane // ln(value + LogFloor) of B, G, R
	Masked []bool
}

// LogFloor keeps the logarithm calm in black: about the sensor noise of an 8-bit picture's darkest tones.
const LogFloor = 12

// logTable is ln(value + LogFloor) of 8-bit values, with one more for values between the last two.
var logTable = func() (t [257]float32) {
	for i := range t {
		t[i] = float32(math.Log(float64(i) + LogFloor))
	}
	return
}()

// logOf is ln(v + LogFloor) for 0 <= v <= 255, from the table to within 0.001.
func logOf(v float32) float32 {
	i := int(v) & 255
	return logTable[i] + (v-float32(i))*(logTable[i+1]-logTable[i])
}

// field is a picture of gradients, row by row, x to the right and y down.
type field struct {
	W, H int
	V    [][2]float32
}

// gradient gives, at each pixel, the gradient of the channel that changes most (Scharr's kernel), in log units per
// pixel, limited to limit, zero at masked pixels and the rim.
func (l *Level) gradient(limit float32) field {
	w, h := l.Chan[0].W, l.Chan[0].H
	f := field{W: w, H: h, V: make([][2]float32, w*h)}
	for y := 1; y < h-1; y++ {
		o := (y - 1) * w
		for c := range l.Chan {
			up, mid, down := l.Chan[c].Pix[o:o+w], l.Chan[c].Pix[o+w:o+2*w], l.Chan[c].Pix[o+2*w:o+3*w]
			out := f.V[o+w : o+2*w]
			for x := 1; x < w-1; x++ {
				d1, d2 := down[x+1]-up[x-1], down[x-1]-up[x+1]
				dx := (3*(d1-d2) + 10*(mid[x+1]-mid[x-1])) / 32
				dy := (3*(d1+d2) + 10*(down[x]-up[x])) / 32
				if v := &out[x]; dx*dx+dy*dy > v[0]*v[0]+v[1]*v[1] {
					v[0], v[1] = dx, dy
				}
			}
		}
	}
	for i := range f.V {
		v := &f.V[i]
		if m := v[0]*v[0] + v[1]*v[1]; m > limit*limit {
			k := limit / float32(math.Sqrt(float64(m)))
			v[0], v[1] = v[0]*k, v[1]*k
		}
	}
	for i, m := range l.Masked {
		if m {
			f.clearAround(i%w, i/w)
		}
	}
	return f
}

// clearAround makes the gradient zero at a pixel and its neighbours.
func (f field) clearAround(x, y int) {
	for j := max(y-1, 0); j <= min(y+1, f.H-1); j++ {
		for i := max(x-1, 0); i <= min(x+1, f.W-1); i++ {
			f.V[j*f.W+i] = [2]float32{}
		}
	}
}

// halved is the field at half its resolution: pixel (i, j) is the mean of the four around (2i + 0.5, 2j + 0.5).
func (f field) halved() field {
	g := field{W: f.W / 2, H: f.H / 2}
	g.V = make([][2]float32, g.W*g.H)
	for j := range g.H {
		for i := range g.W {
			a, b := f.V[2*j*f.W+2*i:], f.V[(2*j+1)*f.W+2*i:]
			g.V[j*g.W+i] = [2]float32{
				(a[0][0] + a[1][0] + b[0][0] + b[1][0]) / 4, (a[0][1] + a[1][1] + b[0][1] + b[1][1]) / 4,
			}
		}
	}
	return g
}

// NewLevel makes the level picture of all that is seen of the plane at height z, at ppm pixels per millimetre, leaving
// out what masked says (pixels of the picture). mat is 8-bit BGR.
func NewLevel(mat gocv.Mat, cam scale.Camera, z, ppm float64, masked func(px, py float64) bool) (*Level, error) {
	x0, x1, y0, y1 := seen(mat.Cols(), mat.Rows(), cam, z)
	w, h := int((x1-x0)*ppm)+1, int((y1-y0)*ppm)+1
	l := &Level{PPM: ppm, X0: x0, Y0: y1, Masked: make([]bool, w*h)}
	for c := range l.Chan {
		l.Chan[c] = NewPlane(w, h)
	}
	small, factor, err := reduced(mat, cam, (x0+x1)/2, (y0+y1)/2, z, ppm)
	if err != nil {
		return nil, err
	}
	defer small.Close()
	pix, err := small.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	im := Image{W: small.Cols(), H: small.Rows(), Pix: pix}
	for j := range h {
		row := newRay(cam, scale.Vec{X: x0, Y: y1 - float64(j)/ppm, Z: z}, scale.Vec{X: 1 / ppm})
		for i := range w {
			px, py := row.pixel(float64(i))
			v, ok := im.sample((px+0.5)*factor-0.5, (py+0.5)*factor-0.5)
			k := j*w + i
			l.Masked[k] = !ok || masked != nil && masked(px, py)
			for c := range v {
				l.Chan[c].Pix[k] = logOf(v[c])
			}
		}
	}
	return l, nil
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

// reduced shrinks the picture by area so that it has at least 1.5 times the level's resolution: enough to sample from
// without aliasing. It shrinks by a whole number, which is three times as fast as by another; what is left over at the
// right and below is cut off. The caller closes the result; factor is its size over the picture's.
func reduced(mat gocv.Mat, cam scale.Camera, x, y, z, ppm float64) (small gocv.Mat, factor float64, err error) {
	ax, ay := cam.Project(scale.Vec{X: x - 1, Y: y, Z: z})
	bx, by := cam.Project(scale.Vec{X: x + 1, Y: y, Z: z})
	n := int(min(math.Hypot(bx-ax, by-ay)/2/(1.5*ppm), float64(min(mat.Cols(), mat.Rows()))))
	n = max(n, 1)
	size := image.Pt(mat.Cols()/n, mat.Rows()/n)
	whole := mat.Region(image.Rectangle{Max: size.Mul(n)})
	defer whole.Close()
	small = gocv.NewMat()
	if err := cvx.Resize(whole, &small, size, gocv.InterpolationArea); err != nil {
		_ = small.Close()
		return gocv.Mat{}, 0, err
	}
	return small, 1 / float64(n), nil
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

// Occupied tells for pixels whether a reference lies there, the one used or another.
func Occupied(ref scale.Reference) func(px, py float64) bool {
	first := Polygon(ref.Outline)
	var others []func(px, py float64) bool
	for _, o := range ref.Beside {
		others = append(others, Polygon(o))
	}
	return func(px, py float64) bool {
		return first(px, py) || slices.ContainsFunc(others, func(in func(px, py float64) bool) bool { return in(px, py) })
	}
}
