package scale

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// tone is a colour, BGR, 0..255.
type tone [3]float64

func grey(v float64) tone { return tone{v, v, v} }

// discScene is a drawn disc that lies on a ground, its upper face in the plane z = 0.
type discScene struct {
	camera   Camera
	size     image.Point
	radius   float64 // mm
	thick    float64 // mm
	bevel    float64 // mm, at 45 degrees
	face     tone
	wall     func(turn float64) float64 // light on the side wall by its direction; nil: 0.7
	bevelled float64                    // light on the bevel; 0: as the face
	ground   func(x, y float64) tone
	sun      pt      // mm that the shadow of a point 1 mm up lies aside
	shade    float64 // light that is left in the shadow; 0: no shadow
	relief   bool    // a raised rim like a coin's
	cover    func(x, y float64) bool
	more     []discScene // further discs: radius, face, at
	at       pt          // mm, the middle of a further disc
	blur     float64     // px
	noise    float64     // grey levels
	seed     uint64
}

// beam is a ray of light that ends in the camera.
type beam struct{ from, along Vec }

// at is where it meets the height z.
func (b beam) at(z float64) Vec { return b.from.add(b.along.mul((z - b.from.Z) / b.along.Z)) }

// light is the colour that a ray through the pixel meets.
func (s *discScene) light(px, py float64) tone {
	b := beam{s.camera.Position(), s.camera.toWorld(Vec{(px - s.camera.CX) / s.camera.F, (py - s.camera.CY) / s.camera.F, 1})}
	up := b.at(0)
	if s.cover != nil && s.cover(up.X, up.Y) {
		return tone{30, 30, 35}
	}
	if c, ok := s.hit(b, up); ok {
		return c
	}
	for i := range s.more {
		m := s.more[i]
		if c, ok := m.hit(b, up); ok {
			return c
		}
	}
	g := b.at(-s.thick)
	c := s.ground(g.X, g.Y)
	if s.shade > 0 && s.shadowed(g) {
		return c.times(s.shade)
	}
	return c
}

func (c tone) times(f float64) tone { return tone{c[0] * f, c[1] * f, c[2] * f} }

func (s *discScene) hit(b beam, up Vec) (tone, bool) {
	r := math.Hypot(up.X-s.at.x, up.Y-s.at.y)
	if r < s.radius-s.bevel {
		if ring := s.radius - r; s.relief && ring > 1 && ring < 1.3 {
			return s.face.times(0.6), true
		}
		return s.face, true
	}
	low := b.at(-s.bevel)
	if math.Hypot(low.X-s.at.x, low.Y-s.at.y) < s.radius {
		if s.bevelled > 0 {
			return s.face.times(s.bevelled), true
		}
		return s.face, true
	}
	foot := b.at(-s.thick)
	if math.Hypot(foot.X-s.at.x, foot.Y-s.at.y) < s.radius {
		f := 0.7
		if s.wall != nil {
			f = s.wall(math.Atan2(foot.Y-s.at.y, foot.X-s.at.x))
		}
		return s.face.times(f), true
	}
	return tone{}, false
}

func (s *discScene) shadowed(g Vec) bool {
	const steps = 12
	for k := range steps + 1 {
		h := s.thick * float64(k) / steps
		if math.Hypot(g.X-s.sun.x*h, g.Y-s.sun.y*h) < s.radius {
			return true
		}
	}
	return false
}

// draw samples each pixel once, 4 x 4 times where its neighbours differ, blurs and adds noise. The Mats are closed by the test.
func (s *discScene) draw(t *testing.T) (mat, flat gocv.Mat) {
	random := rand.New(rand.NewPCG(7, s.seed))
	w, h := s.size.X, s.size.Y
	data := make([]byte, 3*w*h)
	once := make([]tone, w*h)
	for i := range once {
		once[i] = s.light(float64(i%w), float64(i/w))
	}
	const n = 4
	for i, v := range once {
		x, y := i%w, i/w
		differ := false
		for _, o := range [4]int{y*w + max(0, x-1), y*w + min(w-1, x+1), max(0, y-1)*w + x, min(h-1, y+1)*w + x} {
			differ = differ || math.Abs(once[o][0]-v[0])+math.Abs(once[o][1]-v[1])+math.Abs(once[o][2]-v[2]) > 3
		}
		if differ {
			v = tone{}
			for k := range n * n {
				c := s.light(float64(x)+(float64(k%n)+0.5)/n-0.5, float64(y)+(float64(k/n)+0.5)/n-0.5)
				for j := range v {
					v[j] += c[j] / (n * n)
				}
			}
		}
		for j := range v {
			data[3*i+j] = uint8(math.Round(math.Max(0, math.Min(255, v[j]))))
		}
	}
	m, err := gocv.NewMatFromBytes(s.size.Y, s.size.X, gocv.MatTypeCV8UC3, data)
	require.NoError(t, err)
	defer m.Close()
	mat, flat = gocv.NewMat(), gocv.NewMat()
	t.Cleanup(func() { mat.Close(); flat.Close() })
	if s.blur > 0 {
		gocv.GaussianBlur(m, &mat, image.Point{}, s.blur, s.blur, gocv.BorderReplicate)
	} else {
		m.CopyTo(&mat)
	}
	pix, err := mat.DataPtrUint8()
	require.NoError(t, err)
	for i := range pix {
		pix[i] = uint8(math.Round(math.Max(0, math.Min(255, float64(pix[i])+s.noise*random.NormFloat64()))))
	}
	gocv.CvtColor(mat, &flat, gocv.ColorBGRToGray)
	return mat, flat
}

// over is a camera at a height over the disc's plane, seen at an offset (mm in the plane) from the picture's middle, with
// the axis tilted in a direction.
func over(size image.Point, pxPerMM, heightMM, tiltDeg, directionDeg float64, aside pt) Camera {
	s, c := math.Sincos(directionDeg * math.Pi / 180)
	tilt := rotation(Vec{c, s, 0}.mul(tiltDeg * math.Pi / 180))
	cam := Camera{F: pxPerMM * heightMM, CX: float64(size.X-1) / 2, CY: float64(size.Y-1) / 2}
	flip := [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				cam.R[i][j] += tilt[i][k] * flip[k][j]
			}
		}
	}
	// the point aside of the disc's middle lies on the optical axis
	a := Vec{aside.x, aside.y, 0}
	for i, row := range cam.R {
		v := -(row[0]*a.X + row[1]*a.Y)
		switch i {
		case 0:
			cam.T.X = v
		case 1:
			cam.T.Y = v
		default:
			cam.T.Z = v + heightMM
		}
	}
	return cam
}
