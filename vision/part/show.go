package part

import (
	"math"

	"gocv.io/x/gocv"
)

// Cross paints a cross of half-width arm into an 8-bit BGR picture, where it lies inside: for looking at stages only.
func Cross(mat gocv.Mat, x, y float64, arm int, bgr [3]uint8) {
	pix, err := mat.DataPtrUint8()
	if err != nil {
		return
	}
	cx, cy := int(math.Round(x)), int(math.Round(y))
	dot := func(i, j int) {
		if i >= 0 && j >= 0 && i < mat.Cols() && j < mat.Rows() {
			copy(pix[3*(j*mat.Cols()+i):], bgr[:])
		}
	}
	for d := -arm; d <= arm; d++ {
		dot(cx+d, cy)
		dot(cx, cy+d)
	}
}

// painted is an 8-bit BGR picture of the values, clipped to 0..255. The caller closes it.
func painted(w, h int, value func(i, channel int) float64) gocv.Mat {
	m := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8UC3)
	pix, err := m.DataPtrUint8()
	if err != nil {
		return m
	}
	for i := range pix {
		pix[i] = uint8(math.Max(0, math.Min(255, value(i/3, i%3)+0.5)))
	}
	return m
}

// Mat is the strip as an 8-bit BGR picture, for looking at. The caller closes it.
func (s *Strip) Mat() gocv.Mat {
	return painted(s.Chan[0].W, s.Chan[0].H, func(i, c int) float64 { return float64(s.Chan[c].Pix[i]) })
}

// colours of the classes, B, G, R, for looking at stages.
var colours = [Classes][3]float64{{60, 60, 60}, {160, 160, 0}, {0, 0, 220}, {0, 140, 255}, {0, 200, 0}, {0, 220, 220}, {230, 60, 0}, {220, 0, 220}, {255, 255, 255}}

func painting(shares *[Classes]Plane) gocv.Mat {
	return painted(shares[0].W, shares[0].H, func(i, c int) float64 {
		sum := 0.0
		for k := range shares {
			sum += float64(shares[k].Pix[i]) * colours[k][c]
		}
		return sum
	})
}

// showOverview hands what the coarse network sees, with the blobs' middles, to whoever looks at the stages.
func (s Scene) showOverview(o *overview, blobs []blob) {
	if s.Debug == nil {
		return
	}
	m := painting(&o.shares)
	defer m.Close()
	for k, b := range blobs {
		Cross(m, (b.middle.X-o.x0)*o.ppm, (o.y0-b.middle.Y)*o.ppm, max(2, 8-3*k), [3]uint8{255, 255, 255})
	}
	s.Debug("overview", m)
}

// showRegions hands the window along the part and what the fine network sees in it to whoever looks at the stages.
func (s Scene) showRegions(p Part) {
	if s.Debug == nil {
		return
	}
	r := p.Regions
	w, h := r.Prob[0].W, r.Prob[0].H
	strip := NewStrip(s.Image, r.Frame, r.X0, r.X0+(float64(w)-0.5)/r.PPM, r.Y0-(float64(h)-1)/r.PPM, r.Y0, 0, r.PPM)
	m := strip.Mat()
	defer m.Close()
	s.Debug("window", m)
	g := painting(&r.Prob)
	defer g.Close()
	for _, x := range []float64{0, p.RearX, p.FrontX} {
		lx, ly := r.Frame.Local(p.Frame.World(x, 0, 0))
		Cross(g, (lx-r.X0)*r.PPM, (r.Y0-ly)*r.PPM, 8, [3]uint8{255, 255, 255})
	}
	s.Debug("regions", g)
}
