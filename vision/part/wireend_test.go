package part

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/scale"
)

// barLevel draws a dark bar that comes from far away and ends at (x, y) mm, pointing along angle (world), d mm wide.
func barLevel(x, y, angle, d float64) *Level {
	const w, h, ppm = 241, 201, 4.0
	l := &Level{PPM: ppm, X0: -30, Y0: 25, Masked: make([]bool, w*h)}
	for c := range l.Chan {
		l.Chan[c] = NewPlane(w, h)
	}
	soft := func(mm float64) float64 { return 1 / (1 + math.Exp(-mm*ppm*2)) } // an edge about a pixel wide
	cos, sin := math.Cos(angle), math.Sin(angle)
	for k := range w * h {
		dx, dy := l.X0+float64(k%w)/ppm-x, l.Y0-float64(k/w)/ppm-y
		along, across := cos*dx+sin*dy, cos*dy-sin*dx
		in := soft(-along) * soft(d/2-math.Abs(across))
		for c := range l.Chan {
			l.Chan[c].Pix[k] = float32(5 - in)
		}
	}
	return l
}

// A drawn bar's end is the best one, at any place, turn and width, whether its width is known or one of several. The
// template asks for calm behind the cut and so sits some 0.35 mm behind it; that offset is part of what is expected here.
func TestFindWireEndsOfADrawnBar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := rapid.Float64Range(-12, 12).Draw(t, "x"), rapid.Float64Range(-8, 8).Draw(t, "y")
		angle, d := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle"), rapid.Float64Range(4.8, 7.5).Draw(t, "d")
		widths, widthOff := []float64{d}, 0.0
		if rapid.Bool().Draw(t, "guess the width") {
			widths, widthOff = []float64{4.8, 5.4, 6.0, 6.7, 7.5}, 1.3
		}
		ends := findWireEnds(barLevel(x, y, angle, d), widths)
		require.NotEmpty(t, ends)
		e := ends[0]
		s, c := math.Sincos(angle)
		assert.InDelta(t, -0.35, c*(e.X-x)+s*(e.Y-y), 0.4, "along")
		assert.InDelta(t, 0, c*(e.Y-y)-s*(e.X-x), 0.35, "across")
		assert.InDelta(t, 0, math.Remainder(e.Angle-angle, 2*math.Pi)*180/math.Pi, 5, "degrees")
		assert.InDelta(t, d, e.D, widthOff, "width")
	})
}

// Nothing is found on plain ground, nor where all is masked.
func TestFindWireEndsOfNothing(t *testing.T) {
	plain := barLevel(1000, 1000, 0.7, 6)
	assert.Empty(t, findWireEnds(plain, []float64{6}))
	masked := barLevel(0, 0, 0.3, 6)
	for k := range masked.Masked {
		masked.Masked[k] = true
	}
	assert.Empty(t, findWireEnds(masked, []float64{6}))
}

// A level smaller than the bar's sides, such as of a picture taken from too near, has no end and does no harm.
func TestFindWireEndsOfATinyLevel(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {2, 3}, {5, 40}} {
		l := &Level{PPM: 4, Masked: make([]bool, size[0]*size[1])}
		for c := range l.Chan {
			l.Chan[c] = NewPlane(size[0], size[1])
		}
		assert.Empty(t, findWireEnds(l, []float64{4.8, 7.5}))
	}
}

// Stepping along a line gives the pixels that the camera gives for each place by itself.
func TestRayIsTheCamera(t *testing.T) {
	s, c := math.Sincos(0.2)
	cam := scale.Camera{F: 3000, CX: 1990, CY: 1510, K1: -0.02, R: [3][3]float64{{c, 0, s}, {0, -1, 0}, {s, 0, -c}},
		T: scale.Vec{X: 3, Y: -4, Z: 180}}
	start, step := scale.Vec{X: -30, Y: 12, Z: 2.9}, scale.Vec{X: 0.2, Y: -0.1, Z: 0.01}
	row := newRay(cam, start, step)
	for i := range 300 {
		k := float64(i)
		x, y := row.pixel(k)
		wantX, wantY := cam.Project(scale.Vec{X: start.X + k*step.X, Y: start.Y + k*step.Y, Z: start.Z + k*step.Z})
		assert.InDelta(t, wantX, x, 1e-8)
		assert.InDelta(t, wantY, y, 1e-8)
	}
}

func TestLogOf(t *testing.T) {
	for v := 0.0; v <= 255; v += 0.1 {
		assert.InDelta(t, math.Log(v+LogFloor), logOf(float32(v)), 0.001)
	}
}
