package tag

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
	"rsc.io/qr"

	"crimprule/internal/card"
)

const (
	someTag = "canopy-north string-03 crimp-01"
	drawPPM = 24.0 // of the card that is photographed
)

// shot is how a card is photographed: its middle in the picture's middle.
type shot struct {
	w, h     int
	ppm      float64 // px/mm in the middle
	turnDeg  float64
	tiltDeg  float64 // about an axis that is turned by tiltAt to the card's x
	tiltAt   float64
	distance float64 // mm
	blurPX   float64
	dim      float64 // brightest tone, 0..255
}

// homography leads from the drawn card's pixels to the picture's: a pinhole camera that looks at the card's middle (Hartley
// and Zisserman, Multiple View Geometry, section 8.1.1: a plane's picture).
func (s shot) homography(p card.Page) [9]float64 {
	turn, tilt, at := s.turnDeg*math.Pi/180, s.tiltDeg*math.Pi/180, s.tiltAt*math.Pi/180
	// The plane's axes in the camera's frame: turned, then tilted about the axis at.
	axis := func(x, y float64) [3]float64 {
		x, y = x*math.Cos(turn)-y*math.Sin(turn), x*math.Sin(turn)+y*math.Cos(turn)
		along, across := x*math.Cos(at)+y*math.Sin(at), -x*math.Sin(at)+y*math.Cos(at)
		z := across * math.Sin(tilt)
		across *= math.Cos(tilt)
		return [3]float64{along*math.Cos(at) - across*math.Sin(at), along*math.Sin(at) + across*math.Cos(at), z}
	}
	u, v := axis(1, 0), axis(0, 1)
	f := s.ppm * s.distance
	cx, cy := float64(s.w-1)/2, float64(s.h-1)/2
	// A drawn pixel i shows (i+0.5)/drawPPM mm.
	ox, oy := 0.5/drawPPM-p.W/2, 0.5/drawPPM-p.H/2
	var m [9]float64
	for k, c := range [3][2]float64{{f, cx}, {f, cy}, {0, 1}} {
		row := func(w [3]float64, depth float64) float64 {
			if k == 2 {
				return w[2] + depth
			}
			return c[0]*w[k] + c[1]*(w[2]+depth)
		}
		m[3*k], m[3*k+1] = row(u, 0)/drawPPM, row(v, 0)/drawPPM
		m[3*k+2] = ox*row(u, 0) + oy*row(v, 0) + row([3]float64{}, s.distance)
	}
	return m
}

// take gives the picture and where the card's places lie in it.
func (s shot) take(t testing.TB, p card.Page) (gocv.Mat, func(x, y float64) (float64, float64)) {
	t.Helper()
	drawn := p.Draw(drawPPM)
	flat, err := gocv.NewMatFromBytes(drawn.Rect.Dy(), drawn.Rect.Dx(), gocv.MatTypeCV8UC1, drawn.Pix)
	require.NoError(t, err)
	defer flat.Close()
	values := s.homography(p)
	m := gocv.NewMatWithSize(3, 3, gocv.MatTypeCV64F)
	defer m.Close()
	for i, v := range values {
		m.SetDoubleAt(i/3, i%3, v)
	}
	// Taken at the drawing's resolution and averaged, so that nothing aliases.
	grey := gocv.NewMat()
	gocv.GaussianBlur(flat, &flat, image.Point{}, 0.4*drawPPM/s.ppm, 0, gocv.BorderReplicate)
	gocv.WarpPerspectiveWithParams(flat, &grey, m, image.Pt(s.w, s.h), gocv.InterpolationLinear, gocv.BorderConstant,
		color.RGBA{R: 90, G: 90, B: 90})
	if s.blurPX > 0 {
		gocv.GaussianBlur(grey, &grey, image.Point{}, s.blurPX, 0, gocv.BorderReplicate)
	}
	pix, err := grey.DataPtrUint8()
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(1, 2))
	for i, v := range pix {
		pix[i] = uint8(max(0, min(255, 8+float64(v)*(s.dim-8)/255+3*random.NormFloat64())))
	}
	return grey, func(x, y float64) (float64, float64) {
		i, j := x*drawPPM-0.5, y*drawPPM-0.5
		z := values[6]*i + values[7]*j + values[8]
		return (values[0]*i + values[1]*j + values[2]) / z, (values[3]*i + values[4]*j + values[5]) / z
	}
}

func page(t testing.TB, size, text string) card.Page {
	t.Helper()
	p, err := card.New(card.Options{Size: size, Ground: card.Grey, Tag: text})
	require.NoError(t, err)
	return p
}

// The code is made by one library and read by another; what comes back must be what went in, and lie where it was drawn.
func TestATagReadsBackHoweverItLies(t *testing.T) {
	straight := shot{w: 2400, h: 1800, ppm: 15, distance: 170, dim: 230}
	with := func(change func(*shot)) shot { s := straight; change(&s); return s }
	long := strings.Repeat("string-03/", 6)
	for name, c := range map[string]struct {
		shot
		size, text string
	}{
		"straight":             {straight, "A6", someTag},
		"one letter":           {straight, "A6", "7"},
		"as long as can be":    {straight, "A6", long},
		"other letters":        {straight, "A6", "Größe ß äöü crimp-07"},
		"Cyrillic":             {straight, "A6", "бригада 7"},
		"A5":                   {with(func(s *shot) { s.ppm, s.distance = 11, 230 }), "A5", someTag},
		"a quarter turn":       {with(func(s *shot) { s.turnDeg = 90 }), "A6", someTag},
		"upside down":          {with(func(s *shot) { s.turnDeg = 180 }), "A6", someTag},
		"turned by 37 degrees": {with(func(s *shot) { s.turnDeg = 37 }), "A6", someTag},
		"tilted by 30 degrees": {with(func(s *shot) { s.tiltDeg, s.tiltAt, s.turnDeg = 30, 20, -15 }), "A6", someTag},
		"tilted, long":         {with(func(s *shot) { s.tiltDeg, s.tiltAt, s.turnDeg = 25, 80, 140 }), "A6", long},
		"blurred":              {with(func(s *shot) { s.blurPX = 3 }), "A6", someTag},
		"small":                {with(func(s *shot) { s.ppm = 9 }), "A6", long},
		"dim":                  {with(func(s *shot) { s.dim = 70 }), "A6", someTag},
	} {
		t.Run(name, func(t *testing.T) {
			p := page(t, c.size, c.text)
			grey, at := c.take(t, p)
			defer grey.Close()
			for _, ppm := range []float64{c.ppm, 0} {
				codes, err := Find(grey, ppm)
				require.NoError(t, err)
				require.Len(t, codes, 1, "at %v px/mm", ppm)
				require.Equal(t, c.text, codes[0].Text)
				r := p.Tag
				for k, corner := range [4][2]float64{{r.X, r.Y}, {r.X + r.W, r.Y}, {r.X + r.W, r.Y + r.H}, {r.X, r.Y + r.H}} {
					x, y := at(corner[0], corner[1])
					assert.InDelta(t, 0, math.Hypot(codes[0].Outline[k].X-x, codes[0].Outline[k].Y-y), 1.2*c.ppm,
						"corner %d within 1.2 mm, two modules", k)
				}
			}
		})
	}
}

func TestACardWithoutATagHasNone(t *testing.T) {
	s := shot{w: 2400, h: 1800, ppm: 15, distance: 170, dim: 230}
	grey, _ := s.take(t, page(t, "A6", ""))
	defer grey.Close()
	for _, ppm := range []float64{s.ppm, 0} {
		codes, err := Find(grey, ppm)
		require.NoError(t, err)
		assert.Empty(t, codes)
	}
}

// A code half of which is soiled is seen and not read: level M mends 15 % (ISO/IEC 18004).
func TestASoiledTagIsSeenAndNotRead(t *testing.T) {
	s := shot{w: 2400, h: 1800, ppm: 15, distance: 170, dim: 230, turnDeg: 10}
	p := page(t, "A6", someTag)
	soil := p.Tag
	soil.X, soil.Y, soil.W, soil.H, soil.Grey = soil.X+0.35*soil.W, soil.Y+0.35*soil.H, 0.6*soil.W, 0.6*soil.H, 0.3
	p.Rects = append(p.Rects, soil)
	grey, _ := s.take(t, p)
	defer grey.Close()
	codes, err := Find(grey, s.ppm)
	require.NoError(t, err)
	require.Len(t, codes, 1)
	assert.False(t, codes[0].Read)
	assert.Empty(t, codes[0].Text)
}

func TestTwoTagsAreTwo(t *testing.T) {
	s := shot{w: 2400, h: 1800, ppm: 15, distance: 170, dim: 230, turnDeg: -20}
	p := page(t, "A6", someTag)
	other := page(t, "A6", "another")
	for _, r := range other.Rects {
		if r.X >= other.Tag.X-1e-9 && r.X+r.W <= other.Tag.X+other.Tag.W+1e-9 && r.Y+r.H <= other.Tag.Y+other.Tag.H+1e-9 {
			r.X -= 48 // onto the window, which is white then
			p.Rects = append(p.Rects, r)
		}
	}
	for i, r := range p.Rects {
		if r == p.Window {
			p.Rects[i].Grey = 1
		}
	}
	grey, _ := s.take(t, p)
	defer grey.Close()
	codes, err := Find(grey, s.ppm)
	require.NoError(t, err)
	require.Len(t, codes, 2)
	assert.ElementsMatch(t, []string{someTag, "another"}, []string{codes[0].Text, codes[1].Text})
}

// Pictures that hold no code, from sources of their own.
func TestPhotosWithoutACodeHaveNone(t *testing.T) {
	for _, path := range []string{"../../testdata/photo/photo-1022.jpg", "../../samples/workshop-trainee-3-crimp-01.jpg",
		"../../docs/overlay.jpg"} {
		grey := gocv.IMRead(path, gocv.IMReadGrayScale)
		require.False(t, grey.Empty(), path)
		for _, ppm := range []float64{15, 0} {
			codes, err := Find(grey, ppm)
			require.NoError(t, err)
			assert.Empty(t, codes, path)
		}
		require.NoError(t, grey.Close())
	}
}

func TestWhatIsNoPictureIsAnError(t *testing.T) {
	for _, m := range []gocv.Mat{gocv.NewMat(), gocv.NewMatWithSizeFromScalar(gocv.Scalar{}, 50, 50, gocv.MatTypeCV8UC3)} {
		_, err := Find(m, 10)
		assert.Error(t, err)
		require.NoError(t, m.Close())
	}
	for _, side := range []int{1, 3, 39, 41} {
		m := gocv.NewMatWithSizeFromScalar(gocv.Scalar{Val1: 100}, side, 2*side, gocv.MatTypeCV8UC1)
		codes, err := Find(m, 1000)
		assert.NoError(t, err)
		assert.Empty(t, codes)
		require.NoError(t, m.Close())
	}
}

func TestTextsThatAreNoTag(t *testing.T) {
	assert.Empty(t, Unfit("canopy-north string-03 crimp-01"))
	assert.Empty(t, Unfit("Größe бригада 班組"))
	for text, want := range map[string]string{
		"": "empty", "a\x1b[2J": "U+001B", "a\nb": "U+000A", "a\u202eb": "U+202E", "a\x9bb": "U+FFFD", "\u2028": "U+2028",
		strings.Repeat("x", MaxText+1): "201 characters",
	} {
		assert.Contains(t, Unfit(text), want)
	}
}

// Whatever noise and stripes the decoder is fed with, it neither crashes nor finds a tag.
func TestNoiseHoldsNoTag(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for n := range 12 {
		m := gocv.NewMatWithSizeFromScalar(gocv.Scalar{}, 300, 400, gocv.MatTypeCV8UC1)
		pix, err := m.DataPtrUint8()
		require.NoError(t, err)
		cell := 1 + n
		tones := make([]uint8, len(pix))
		for i := range tones {
			tones[i] = uint8(random.IntN(256))
		}
		for i := range pix {
			pix[i] = tones[(i/400/cell)*400+i%400/cell]
		}
		codes, err := Find(m, 8)
		require.NoError(t, err)
		assert.Empty(t, codes)
		require.NoError(t, m.Close())
	}
}

// Damage of every kind to the modules: a code that is still read is read rightly.
func TestAReadTagIsRight(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	code, err := qr.Encode(someTag, qr.M)
	require.NoError(t, err)
	read := 0
	for n := range 40 {
		const quiet, px = 6, 6
		side := (code.Size + 2*quiet) * px
		m := gocv.NewMatWithSizeFromScalar(gocv.Scalar{Val1: 220}, side, side, gocv.MatTypeCV8UC1)
		for y := range code.Size {
			for x := range code.Size {
				n := n // the finder patterns stay
				if x < 8 && (y < 8 || y > code.Size-9) || x > code.Size-9 && y < 8 {
					n = 0
				}
				if code.Black(x, y) != (random.IntN(400) < n) {
					for i := range px * px {
						m.SetUCharAt((y+quiet)*px+i/px, (x+quiet)*px+i%px, 20)
					}
				}
			}
		}
		codes, err := Find(m, 0)
		require.NoError(t, err)
		for _, c := range codes {
			if c.Read {
				read++
				assert.Equal(t, someTag, c.Text)
			}
		}
		require.NoError(t, m.Close())
	}
	assert.Greater(t, read, 3)
	assert.Less(t, read, 30)
}

// The aim is at most 60 ms for a photo of 12 megapixels.
func BenchmarkFind12MP(b *testing.B) {
	for name, text := range map[string]string{"with": someTag, "without": ""} {
		s := shot{w: 4000, h: 3000, ppm: 20, distance: 170, dim: 230, turnDeg: 5}
		grey, _ := s.take(b, page(b, "A6", text))
		defer grey.Close()
		for ppm, known := range map[float64]string{20: "known", 0: "unknown"} {
			b.Run(name+"-scale-"+known, func(b *testing.B) {
				for b.Loop() {
					codes, err := Find(grey, ppm)
					require.NoError(b, err)
					require.Equal(b, text != "", len(codes) == 1)
				}
			})
		}
	}
}
