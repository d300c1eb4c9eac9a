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

// LogFloor keeps the logarithm calm in black: about the sensor noise of an 8-bit picture's darkest tones.
const LogFloor = 12

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
