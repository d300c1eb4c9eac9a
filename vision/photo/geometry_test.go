package photo

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// cameraAbove looks straight down from (x, y) at the distance d (mm); the picture's middle is the point below it. Its x
// runs with the world's, its y against it.
func cameraAbove(x, y, d, focal float64, w, h int) scale.Camera {
	return scale.Camera{
		F: focal, CX: float64(w-1) / 2, CY: float64(h-1) / 2,
		R: [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, T: scale.Vec{X: -x, Y: y, Z: d},
	}
}

// tilted turns a camera about its own x axis by a, with the world's origin still in the middle at the distance d.
func tilted(a, d, focal float64) scale.Camera {
	c := cameraAbove(0, 0, d, focal, 3001, 3001)
	c.R = [3][3]float64{{1, 0, 0}, {0, -math.Cos(a), -math.Sin(a)}, {0, math.Sin(a), -math.Cos(a)}}
	c.T = scale.Vec{Z: d}
	return c
}

// An axis h above the card, seen from the distance D, looks larger by D/(D-h). The factors are computed by that formula and
// written down to five places, beside which they follow from similar triangles; 200 mm and 2.8 mm make 6 mm look
// 0.085 mm too long.
func TestHeightAboveTheCardMakesThingsLookLarger(t *testing.T) {
	for _, c := range []struct{ distance, height, factor float64 }{
		{200, 1.0, 1.00503}, {200, 2.8, 1.01420}, {200, 3.5, 1.01781},
		{300, 1.0, 1.00334}, {300, 2.8, 1.00942}, {300, 3.5, 1.01180},
		{500, 1.0, 1.00200}, {500, 2.8, 1.00563}, {500, 3.5, 1.00705},
	} {
		t.Run(fmt.Sprintf("D %v h %v", c.distance, c.height), func(t *testing.T) {
			f := part.Frame{Camera: cameraAbove(7, -4, c.distance, 4000, 4000, 3000), Origin: scale.Vec{X: 3, Y: 2}, Angle: 0.7}
			a, b := f.Pixel(0, 0, c.height), f.Pixel(6, 0, c.height)
			// On the card, as if the part had no height: too long.
			ax, ay := f.FromPixel(a, 0)
			bx, by := f.FromPixel(b, 0)
			assert.InDelta(t, 6*c.factor, math.Hypot(bx-ax, by-ay), 6*6e-6)
			// At its own height: right.
			ax, ay = f.FromPixel(a, c.height)
			bx, by = f.FromPixel(b, c.height)
			assert.InDelta(t, 6, math.Hypot(bx-ax, by-ay), 1e-9)
			if c.distance == 200 && c.height == 2.8 {
				assert.InDelta(t, 0.085, 6*c.factor-6, 0.0005)
			}
			// The local scale, too: a pixel shows less at the part's height than on the card.
			ref := scale.Reference{Camera: f.Camera}
			assert.InDelta(t, c.factor, ref.MMPerPX(a.X, a.Y, 0)/ref.MMPerPX(a.X, a.Y, c.height), 6e-6)
		})
	}
}

// A tilt by a shortens by cos a what runs along it, and nothing across (cosines computed: 0.99939, 0.99619, 0.98481).
// Perspective is kept out by distance.
func TestTiltShortens(t *testing.T) {
	for _, c := range []struct{ deg, shorter float64 }{{2, 0.0006}, {5, 0.0038}, {10, 0.0152}} {
		cam := tilted(c.deg*math.Pi/180, 1e6, 2e7)
		along := func(v scale.Vec) float64 {
			ox, oy := cam.Project(scale.Vec{})
			px, py := cam.Project(v)
			return math.Hypot(px-ox, py-oy)
		}
		assert.InDelta(t, c.deg, cam.TiltDeg(), 1e-6)
		assert.InDelta(t, 1-c.shorter, along(scale.Vec{Y: 10})/along(scale.Vec{X: 10}), 6e-5, "%v degrees", c.deg)
		px, py := cam.Project(scale.Vec{X: 3, Y: 10})
		back := cam.OnPlane(px, py, 0)
		assert.InDelta(t, 3, back.X, 1e-6)
		assert.InDelta(t, 10, back.Y, 1e-6, "the camera's pose takes the tilt off again")
	}
}

// A part 28 mm beside the point straight under the lens, at a distance of 150 mm, is seen under 10.6 degrees: atan(28/150).
func TestPartAsideIsSeenAtAnAngle(t *testing.T) {
	const height = 0.0
	f := part.Frame{Camera: cameraAbove(0, 0, 150, 3000, 4000, 3000), Origin: scale.Vec{X: 0, Y: 28, Z: height}}
	along, across := f.View(0, 0)
	assert.InDelta(t, 10.6, math.Atan(across)*180/math.Pi, 0.05)
	assert.InDelta(t, 0, along, 1e-12)
	// Turned by a quarter, the same part is seen along its axis; turned by half, from its other side.
	f.Angle = math.Pi / 2
	along, across = f.View(0, 0)
	assert.InDelta(t, 28.0/150, along, 1e-12)
	assert.InDelta(t, 0, across, 1e-12)
	f.Angle = math.Pi
	_, across = f.View(0, 0)
	assert.InDelta(t, -28.0/150, across, 1e-12)
}

// What View says is what the camera shows: a point z above the axis looks shifted by z times the slope, to first order in
// z over the distance; and atHeight takes that off exactly.
func TestSlopesAreWhatTheCameraShows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		distance := rapid.Float64Range(120, 500).Draw(t, "distance")
		f := part.Frame{
			Camera: cameraAbove(rapid.Float64Range(-30, 30).Draw(t, "x"), rapid.Float64Range(-30, 30).Draw(t, "y"), distance, 4000, 4000, 3000),
			Origin: scale.Vec{Z: 2.75}, Angle: rapid.Float64Range(-3, 3).Draw(t, "angle"),
		}
		const x, y, z = 4.0, 0.3, 1.5
		sx, sy := f.FromPixel(f.Pixel(x, y, z), 0)
		along, across := f.View(x, y)
		near := 2 * z * z / (distance - 5) / (distance - 5) * 45
		assert.InDelta(t, x+z*along, sx, near)
		assert.InDelta(t, y+z*across, sy, near)
		b := &bench{frame: f}
		assert.InDelta(t, x, b.atHeight(sx, sy, z), 1e-9)
	})
}

// Pixel and FromPixel undo each other at any height, for a camera that distorts as a phone's does.
func TestFrameThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cam := tilted(rapid.Float64Range(-0.3, 0.3).Draw(t, "tilt"), 180, 3500)
		cam.K1 = rapid.Float64Range(-0.05, 0.05).Draw(t, "k1")
		f := part.Frame{Camera: cam, Origin: scale.Vec{X: 5, Y: -9, Z: 2.6}, Angle: rapid.Float64Range(-3, 3).Draw(t, "angle")}
		x, y := rapid.Float64Range(-10, 15).Draw(t, "x"), rapid.Float64Range(-5, 5).Draw(t, "y")
		z := rapid.Float64Range(-2, 2).Draw(t, "z")
		bx, by := f.FromPixel(f.Pixel(x, y, z), z)
		assert.InDelta(t, x, bx, 1e-6)
		assert.InDelta(t, y, by, 1e-6)
		// A moved frame names the same places of the world.
		m := f.Moved(1.5, -0.4, 0.2)
		p := record.Point{X: f.Pixel(x, y, z).X, Y: f.Pixel(x, y, z).Y}
		mx, my := m.FromPixel(p, z)
		w, v := m.World(mx, my, z), f.World(x, y, z)
		assert.InDelta(t, 0, math.Hypot(w.X-v.X, w.Y-v.Y), 1e-6)
	})
}
