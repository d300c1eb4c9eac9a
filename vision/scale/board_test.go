package scale

import (
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// scene is a drawn chessboard: cols x rows inner corners with 5 mm squares on a white slip, seen by a known camera.
type scene struct {
	cols, rows int
	camera     Camera
	size       image.Point
	dark       float64                      // share of the light that is left
	shade      func(px, py float64) float64 // further light, 1 where nil
	cover      func(x, y float64) bool      // where something grey lies on the board
	second     bool                         // another, smaller board beside it
}

const square = 5.

// brightness is that of the plane at x, y in mm; the middle of the inner corners is the origin.
func (s scene) brightness(x, y float64) float64 {
	if s.cover != nil && s.cover(x, y) {
		return 120
	}
	if s.second {
		if v, ok := board(x-(float64(s.cols)/2+5.4)*square, y, 4, 4); ok {
			return v
		}
	}
	if v, ok := board(x, y, s.cols, s.rows); ok {
		return v
	}
	return 95
}

func board(x, y float64, cols, rows int) (float64, bool) {
	i, j := x/square+float64(cols+1)/2, y/square+float64(rows+1)/2
	const slip = 0.8
	if i < -slip || j < -slip || i > float64(cols)+1+slip || j > float64(rows)+1+slip {
		return 0, false
	}
	if i < 0 || j < 0 || i > float64(cols+1) || j > float64(rows+1) {
		return 225, true
	}
	if (int(i)+int(j))%2 == 0 {
		return 40, true
	}
	return 225, true
}

// draw samples each pixel 3 x 3 times and adds noise of two grey levels. The camera has no distortion.
func (s scene) draw(t *testing.T) gocv.Mat {
	random := rand.New(rand.NewPCG(1, uint64(s.cols*100+s.rows)))
	data := make([]byte, s.size.X*s.size.Y)
	const n = 3
	from := s.camera.Position()
	for py := range s.size.Y {
		for px := range s.size.X {
			v := 0.
			for k := range n * n {
				x, y := float64(px)+(float64(k%n)+0.5)/n-0.5, float64(py)+(float64(k/n)+0.5)/n-0.5
				d := s.camera.toWorld(Vec{(x - s.camera.CX) / s.camera.F, (y - s.camera.CY) / s.camera.F, 1})
				w := from.sub(d.mul(from.Z / d.Z))
				v += s.brightness(w.X, w.Y) / (n * n)
			}
			if s.shade != nil {
				v *= s.shade(float64(px), float64(py))
			}
			v = v*s.dark + 2*random.NormFloat64()
			data[py*s.size.X+px] = uint8(math.Min(255, math.Max(0, math.Round(v))))
		}
	}
	m, err := gocv.NewMatFromBytes(s.size.Y, s.size.X, gocv.MatTypeCV8UC1, data)
	require.NoError(t, err)
	t.Cleanup(func() { _ = m.Close() })
	return m
}

// looking is a camera whose axis is `distance` long to the plane through the board's middle, tilted about the direction `about` and turned in the picture, with the
// board's middle shifted by (x, y) mm.
func looking(size image.Point, f, distance, tiltDeg, aboutDeg, turnDeg, x, y float64) Camera {
	c := Camera{F: f, CX: float64(size.X-1) / 2, CY: float64(size.Y-1) / 2, T: Vec{x, y, distance}}
	const rad = math.Pi / 180
	s, co := math.Sincos(aboutDeg * rad)
	tilt, turn := rotation(Vec{tiltDeg * rad * co, tiltDeg * rad * s, 0}), rotation(Vec{0, 0, turnDeg * rad})
	flip := [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}
	c.R = product(product(tilt, turn), flip)
	return c
}

func product(a, b [3][3]float64) (c [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

// corners gives the true places of the inner corners that lie in the picture and are not covered.
func (s scene) corners() []pt {
	var out []pt
	for j := range s.rows {
		for i := range s.cols {
			w := Vec{(float64(i) - float64(s.cols-1)/2) * square, (float64(j) - float64(s.rows-1)/2) * square, 0}
			x, y := s.camera.Project(w)
			if x > 12 && y > 12 && x < float64(s.size.X-12) && y < float64(s.size.Y-12) && (s.cover == nil || !s.cover(w.X, w.Y)) {
				out = append(out, pt{x, y})
			}
		}
	}
	return out
}

func TestAnySizeAtAnyTurn(t *testing.T) {
	size := image.Pt(900, 700)
	half := func(px, _ float64) float64 { return 1 - 0.55/(1+math.Exp(-(px-430)/2)) }
	for name, c := range map[string]struct {
		scene
		missing int // corners that may be lost to rims, shadows and covers
	}{
		"4 x 3, square above":       {scene{cols: 4, rows: 3, camera: looking(size, 2500, 200, 0, 0, 5, 3, -2), dark: 1}, 0},
		"5 x 7, turned by 30":       {scene{cols: 5, rows: 7, camera: looking(size, 2200, 190, 8, 20, 30, -3, 2), dark: 1}, 0},
		"12 x 9, turned by 137":     {scene{cols: 12, rows: 9, camera: looking(size, 1700, 230, 12, 80, 137, 0, 0), dark: 1}, 0},
		"7 x 7, dark":               {scene{cols: 7, rows: 7, camera: looking(size, 2400, 200, 5, 45, 77, 0, 0), dark: 0.25}, 0},
		"9 x 6, hard shadow":        {scene{cols: 9, rows: 6, camera: looking(size, 2200, 200, 10, 10, -15, 0, 0), dark: 1, shade: half}, 6},
		"9 x 6, cut by the rim":     {scene{cols: 9, rows: 6, camera: looking(size, 2600, 180, 10, 60, 20, 20, 10), dark: 1}, 4},
		"8 x 6, part on it":         {scene{cols: 8, rows: 6, camera: looking(size, 2400, 200, 7, 30, 10, 0, 0), dark: 1, cover: func(x, y float64) bool { return math.Abs(x+0.3*y-3) < 3 }}, 8},
		"7 x 5, tilted by 35":       {scene{cols: 7, rows: 5, camera: looking(size, 2200, 180, 35, 50, 65, 0, 0), dark: 1}, 0},
		"9 x 6 beside a 4 x 4":      {scene{cols: 9, rows: 6, camera: looking(size, 1500, 200, 6, 30, 3, -18, 0), dark: 1, second: true}, 0},
		"6 x 4, small squares (12)": {scene{cols: 6, rows: 4, camera: looking(size, 560, 230, 20, 60, 25, 10, 5), dark: 1}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			c.size = size
			ref, err := Chessboard(c.draw(t), square, 0)
			require.NoError(t, err)
			want := c.corners()
			sum := 0.
			for _, p := range ref.Points {
				best := math.Inf(1)
				for _, q := range want {
					best = math.Min(best, q.dist(pt{p.X, p.Y}))
				}
				if best > 2 { // a corner at the rim or at a cover, which the list of true ones leaves out
					continue
				}
				sum += best * best
			}
			assert.GreaterOrEqual(t, len(ref.Points), len(want)-c.missing, "corners found of %d", len(want))
			assert.LessOrEqual(t, len(ref.Points), c.cols*c.rows)
			assert.Less(t, math.Sqrt(sum/float64(len(ref.Points))), 0.1, "rms of the corners, px")
			assert.Equal(t, c.second, len(ref.Notes) > 0, "%v", ref.Notes)
			checkCamera(t, c.camera, ref, size)
		})
	}
}

// checkCamera holds the found camera against the true one: within 3 standard uncertainties.
func checkCamera(t *testing.T, want Camera, ref Reference, size image.Point) {
	t.Helper()
	got := ref.Camera
	assert.Less(t, math.Abs(math.Log(got.Position().Z/want.Position().Z)), 3*ref.RelUDistance, "distance, u %.3f", ref.RelUDistance)
	assert.InDelta(t, want.TiltDeg(), got.TiltDeg(), 3*ref.UTiltDeg)
	for _, p := range []pt{{float64(size.X) / 2, float64(size.Y) / 2}, {float64(size.X) * 0.2, float64(size.Y) * 0.7}} {
		u := ref.RelUAt(p.x, p.y, 0)
		assert.InDelta(t, 0, math.Log(ref.MMPerPX(p.x, p.y, 0)/want.mmPerPX(p.x, p.y, 0)), 3*u, "scale at %v, u %.5f", p, u)
	}
	// Right-handed, z to the camera, x to the right in the picture and y up.
	assert.Positive(t, got.Position().Z)
	x0, y0 := got.Project(Vec{})
	x1, y1 := got.Project(Vec{X: 5})
	x2, y2 := got.Project(Vec{Y: 5})
	assert.Greater(t, x1-x0, math.Abs(y1-y0)*0.9)
	assert.Less(t, (x1-x0)*(y2-y0)-(y1-y0)*(x2-x0), 0., "y is counter-clockwise from x as seen in the picture")
	x3, y3 := got.Project(got.OnPlane(123, 456, 2))
	assert.InDelta(t, 123, x3, 1e-6)
	assert.InDelta(t, 456, y3, 1e-6)
}

func TestRefusals(t *testing.T) {
	size := image.Pt(900, 700)
	blank := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(128, 0, 0, 0), 700, 900, gocv.MatTypeCV8UC1)
	defer func() { _ = blank.Close() }()
	steep := scene{cols: 7, rows: 5, camera: looking(size, 2200, 180, 48, 50, 20, 0, 0), size: size, dark: 1}
	tiny := scene{cols: 9, rows: 6, camera: looking(size, 270, 200, 5, 50, 20, 0, 0), size: size, dark: 1}
	for name, c := range map[string]struct {
		mat  gocv.Mat
		want []string
	}{
		"nothing there": {blank, []string{"no chessboard was found"}},
		"tilted by 48":  {steep.draw(t), []string{"tilted by 4"}},
		"tiny squares":  {tiny.draw(t), []string{"no chessboard was found", "go nearer"}},
	} {
		_, err := Chessboard(c.mat, square, 0)
		var refusal Refusal
		require.True(t, errors.As(err, &refusal), "%s: %v", name, err)
		found := false
		for _, w := range c.want {
			found = found || strings.Contains(refusal.Reason, w)
		}
		assert.True(t, found, "%s: %s", name, refusal.Reason)
	}
	_, err := Chessboard(blank, -1, 0)
	assert.ErrorContains(t, err, "-1 mm")
	empty := gocv.NewMat()
	defer func() { _ = empty.Close() }()
	_, err = Chessboard(empty, 5, 0)
	assert.Error(t, err)
}

// Whatever the picture, the answer is a refusal and never a crash: OpenCV's exceptions would end the process.
func TestOddPictures(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	for _, size := range []image.Point{{1, 1}, {3, 2}, {1, 5000}, {7000, 2}, {40, 40}, {333, 222}} {
		data := make([]byte, size.X*size.Y)
		for i := range data {
			data[i] = uint8(random.IntN(256))
		}
		m, err := gocv.NewMatFromBytes(size.Y, size.X, gocv.MatTypeCV8UC1, data)
		require.NoError(t, err)
		_, err = Chessboard(m, square, 0)
		var refusal Refusal
		assert.True(t, errors.As(err, &refusal), "%v: %v", size, err)
		_ = m.Close()
	}
}

// A focal length from the metadata tells what a board seen square on cannot: the camera's distance.
func TestFocalLengthFromMetadata(t *testing.T) {
	size := image.Pt(900, 700)
	s := scene{cols: 9, rows: 6, camera: looking(size, 3000, 300, 0.3, 0, 5, 0, 0), size: size, dark: 1}
	m := s.draw(t)
	without, err := Chessboard(m, square, 0)
	require.NoError(t, err)
	with, err := Chessboard(m, square, 3000)
	require.NoError(t, err)
	assert.Greater(t, without.RelUDistance, 0.1)
	assert.Less(t, with.RelUDistance, 0.06)
	assert.InEpsilon(t, 300, with.Camera.Position().Z, 0.05)
	assert.Contains(t, without.FocalSource, "assumed distance")
	assert.Contains(t, with.FocalSource, "metadata")

	// A cropped picture's metadata are wrong; a tilted board overrules them.
	s.camera = looking(size, 3000, 300, 20, 0, 5, 0, 0)
	with, err = Chessboard(s.draw(t), square, 2600)
	require.NoError(t, err)
	assert.InEpsilon(t, 3000, with.Camera.F, 0.01)
	assert.Contains(t, with.FocalSource, "perspective")
	require.Len(t, with.Notes, 1)
	assert.Contains(t, with.Notes[0], "2600 px")
}
