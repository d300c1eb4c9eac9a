package photo

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// bedShape is a part in plain measures: the truth of what follows is the drawing's own geometry.
func bedShape() strayShape {
	return strayShape{cut: 0, rear: 0.8, front: 8, wire: 2.9, bundle: 1.4,
		left: func(float64) float64 { return 2.2 }, right: func(float64) float64 { return -2.2 }}
}

// arc leaves (x, y) at an angle (degrees from x) and turns by curve degrees a mm.
func arc(x, y, angle, curve, length float64) []subpixel.Point {
	const step = 0.05
	p := []subpixel.Point{{X: x, Y: y}}
	for l := step; l <= length+1e-9; l += step {
		a := (angle + curve*(l-step/2)) * math.Pi / 180
		x, y = x+step*math.Cos(a), y+step*math.Sin(a)
		p = append(p, subpixel.Point{X: x, Y: y})
	}
	return p
}

// strayBench is a part whose regions show strands of 0.3 mm along the paths, on a window as the finder's.
func strayBench(paths ...[]subpixel.Point) *bench {
	const w, h, ppm = 384, 192, 16.0
	r := &part.Regions{PPM: ppm, X0: -8, Y0: 6}
	r.Frame.Camera = cameraAbove(0, 0, 180, 4000, 4000, 3000)
	for c := range r.Prob {
		r.Prob[c] = part.NewPlane(w, h)
	}
	for i := range w * h {
		x, y := r.X0+float64(i%w)/ppm, r.Y0-float64(i/w)/ppm
		for _, p := range paths {
			for _, q := range p {
				if math.Hypot(q.X-x, q.Y-y) < 0.15 {
					r.Prob[part.Strays].Pix[i] = 0.9
				}
			}
		}
	}
	rec := record.New(record.Seam)
	return &bench{part: part.Part{Regions: r, Frame: r.Frame}, frame: r.Frame, rec: &rec, body: model{strand: 0.3}}
}

// A strand's length is that of its arc, whatever its direction and curve; the region's ends lie half a width beyond the path's.
func TestStrayPathsFollowTheRegions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(1.5, 5).Draw(t, "length")
		p := arc(1, 0.5, rapid.Float64Range(20, 160).Draw(t, "angle"), rapid.Float64Range(-15, 15).Draw(t, "curve"), length)
		got := strayBench(p).strayPaths()
		require.Len(t, got, 1)
		assert.InDelta(t, length+0.2, got[0].length(), 0.06*length+0.15)
		assert.InDelta(t, 0.9, got[0].share, 0.01)
	})
	assert.Empty(t, strayBench().strayPaths(), "no strand, no path")
	assert.Empty(t, strayBench([]subpixel.Point{{X: 1, Y: 4}}).strayPaths(), "a spot is none")
	assert.Len(t, strayBench(arc(0.4, 1, 60, 0, 3), arc(0.4, -1, -60, 0, 3)).strayPaths(), 2)
}

func TestWhatCountsAsAStray(t *testing.T) {
	p := bedShape()
	path := func(points []subpixel.Point, share float64) strayPath { return strayPath{points, share} }
	out := arc(0.4, 1.4, 70, 5, 4)
	for _, c := range []struct {
		name            string
		paths           []strayPath
		found, doubtful int
	}{
		{"from the bare conductor", []strayPath{path(out, 0.9)}, 1, 0},
		{"the same, listed from its tip", []strayPath{path(reversed(out), 0.9)}, 1, 0},
		{"from the brush", []strayPath{path(arc(8.5, -1, -60, 0, 3), 0.9)}, 1, 0},
		{"within the outline", []strayPath{path(arc(0.4, 0, 0, 0, 5), 0.9)}, 0, 0},
		{"a spot", []strayPath{path(arc(0.4, 3, 90, 0, 0.4), 0.9)}, 0, 0},
		{"a hair far from the part", []strayPath{path(arc(4, 4, 20, 0, 3), 0.9)}, 0, 1},
		{"something faint and short at the outline", []strayPath{path(arc(0.4, 1.5, 90, 0, 0.9), 0.45)}, 0, 1},
		{"two strands", []strayPath{path(out, 0.9), path(arc(0.4, -1.4, -70, 0, 3), 0.9)}, 2, 0},
		{"one strand in two stretches", []strayPath{path(out[:30], 0.9), path(out[40:], 0.9)}, 1, 0},
		{"nothing", nil, 0, 0},
	} {
		found, doubtful := p.strays(c.paths, 0.3)
		assert.Len(t, found, c.found, c.name)
		assert.Equal(t, c.doubtful, doubtful, c.name)
	}
	// From root to tip: three quarters of the way out on the conductor's upper half, on to where the arc begins, and along it.
	found, _ := p.strays([]strayPath{path(out, 0.9)}, 0.3)
	assert.InDelta(t, 4+0.25*1.4, found[0].length(), 0.02)
	found, _ = p.strays([]strayPath{path(out[:30], 0.9), path(out[40:], 0.9)}, 0.3)
	assert.InDelta(t, 4+0.25*1.4, found[0].length(), 0.02, "what is hidden in between counts")
}

func TestRootsAndOutline(t *testing.T) {
	p := bedShape()
	assert.InDelta(t, 1.05, p.nearestRoot(subpixel.Point{X: 0.5, Y: 4}, 0.75).Y, 1e-9)
	assert.InDelta(t, 8.7, p.nearestRoot(subpixel.Point{X: 8.7, Y: -4}, 1).X, 1e-9, "the brush is nearer")
	assert.InDelta(t, 0.1, p.beyond(subpixel.Point{X: -1, Y: 3}), 1e-9, "the insulation's side")
	assert.InDelta(t, 0.8, p.beyond(subpixel.Point{X: 4, Y: -3}), 1e-9, "the sleeve's side")
}
