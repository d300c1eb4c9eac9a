package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// paper is a part drawn flat, by plain formulas: its edges are known exactly and have no height. x runs from the wire to
// the body, the insulation is cut at x = 0.
type paper struct {
	rear, front, left, right float64 // of the sleeve, mm; right is negative
	seam, seamSlope          float64 // y of the seam at the sleeve's middle, and its slope
	flare, flareLength       float64
	ground, metal            float64     // brightness
	turn, shift              float64     // of the part in the frame that the bench is given: radians, mm across
	hole                     *[3]float64 // in the left wing: from and to along x, and how far it reaches in from the seam
}

const (
	paperPPM = 25.0
	wireHalf = 2.9
	bareHalf = 1.3
)

// brightness of the place (x, y) of the part.
func (p paper) brightness(x, y float64) [3]float64 {
	seam := p.seam + p.seamSlope*(x-(p.rear+p.front)/2)
	flare := 0.0
	if x >= p.rear && x < p.rear+p.flareLength {
		flare = p.flare * (1 - (x-p.rear)/p.flareLength)
	}
	switch {
	case x >= p.rear && x <= p.front && y < p.left+flare && y > p.right-flare:
		if h := p.hole; h != nil && x > h[0] && x < h[1] && y > seam && y < seam+h[2] {
			return p.strands(x, y)
		}
		if math.Abs(y-seam) < 0.05 {
			return [3]float64{25, 25, 25}
		}
		wide := p.left + flare - seam // two humps: bright on their crowns, darker towards side and groove
		if y < seam {
			wide = seam - p.right + flare
		}
		v := p.metal*(0.55+0.45*math.Sin(math.Pi*math.Abs(y-seam)/wide)) + 9*math.Sin(37*y) + 7*math.Sin(61*y+1) // and marks along it
		return [3]float64{v, v, v}
	case x < 0 && math.Abs(y) < wireHalf: // round insulation, blue
		v := 30 + 40*math.Sqrt(1-y*y/wireHalf/wireHalf)
		return [3]float64{v * 1.8, v, v * 0.8}
	case x >= 0 && x < p.rear && math.Abs(y) < bareHalf, x > p.front && x < p.front+0.7 && math.Abs(y) < bareHalf:
		return p.strands(x, y)
	case x > p.front+1.2 && math.Abs(y) < 1.6: // the contact's body, a bar with a glint
		v := 110 + 90*math.Exp(-8*(y-0.5)*(y-0.5))
		return [3]float64{v, v, v}
	}
	return [3]float64{p.ground, p.ground, p.ground}
}

// strands of 0.3 mm side by side, copper.
func (p paper) strands(_, y float64) [3]float64 {
	v := 60 + 120*math.Pow(math.Sin(math.Pi*y/0.3), 2)
	return [3]float64{0.5 * v, 0.7 * v, v}
}

// class is what the place (x, y) of the part shows.
func (p paper) class(x, y float64) part.Class {
	seam := p.seam + p.seamSlope*(x-(p.rear+p.front)/2)
	flare := 0.0
	if x >= p.rear && x < p.rear+p.flareLength {
		flare = p.flare * (1 - (x-p.rear)/p.flareLength)
	}
	switch {
	case x >= p.rear && x <= p.front && y < p.left+flare && y > p.right-flare:
		if h := p.hole; h != nil && x > h[0] && x < h[1] && y > seam && y < seam+h[2] {
			return part.Through
		}
		return part.Sleeve
	case x < 0 && math.Abs(y) < wireHalf:
		return part.Insulation
	case x >= 0 && x < p.rear && math.Abs(y) < bareHalf:
		return part.Conductor
	case x > p.front && x < p.front+0.7 && math.Abs(y) < bareHalf:
		return part.Brush
	case x > p.front+1.2 && math.Abs(y) < 1.6:
		return part.Body
	}
	return part.Ground
}

// regions is what a finder would say of each place, blurred over three pixels of its grid and a pixel off.
func (p paper) regions(f part.Frame) *part.Regions {
	const w, h, ppm, off = 384, 192, 16.0, 1 / 16.
	r := &part.Regions{Frame: f, PPM: ppm, X0: -8, Y0: 6}
	for c := range r.Prob {
		r.Prob[c] = part.NewPlane(w, h)
	}
	c, s := math.Cos(p.turn), math.Sin(p.turn)
	for i := range w * h {
		for k := range 9 {
			x, y := r.X0+float64(i%w+k%3-1)/ppm-off, r.Y0-float64(i/w+k/3-1)/ppm-p.shift
			r.Prob[p.class(c*x+s*y, c*y-s*x)].Pix[i] += 1. / 9
		}
	}
	return r
}

// drawn is the part seen from straight above, blurred by about a pixel, with noise of one level, and what a finder would say
// of it: right but for some tenths of a millimetre.
func (p paper) drawn(t *testing.T) Subject {
	t.Helper()
	const w, h, fine, height, distance = 720, 400, 3, 2.75, 300.0
	cam := cameraAbove(4, 0, distance, paperPPM*(distance-height), w, h)
	f := part.Frame{Camera: cam, Origin: scale.Vec{Z: height}}
	v := make([]float64, 3*w*h)
	for j := range h {
		for i := range w {
			for k := range fine * fine {
				x, y := f.FromPixel(record.Point{
					X: float64(i) + (float64(k%fine)+0.5)/fine - 0.5, Y: float64(j) + (float64(k/fine)+0.5)/fine - 0.5,
				}, 0)
				c, s := math.Cos(p.turn), math.Sin(p.turn)
				bgr := p.brightness(c*x+s*(y-p.shift), c*(y-p.shift)-s*x)
				for ch := range bgr {
					v[3*(j*w+i)+ch] += bgr[ch] / fine / fine
				}
			}
		}
	}
	binomial(v, 3, 3*w)
	binomial(v, 3*w, 3*w*h)
	random := rand.New(rand.NewPCG(13, 17))
	im := part.Image{W: w, H: h, Pix: make([]byte, len(v))}
	for i := range v {
		im.Pix[i] = byte(math.Max(0, math.Min(255, v[i]+random.NormFloat64()+0.5)))
	}
	return Subject{
		Image: im, Reference: scale.Reference{Camera: cam, RelU: 0.0005, UTiltDeg: 0.2},
		Part:     part.Part{Frame: f, Regions: p.regions(f), WireMM: 2 * wireHalf, RearX: p.rear + 0.15, FrontX: p.front - 0.1},
		Declared: record.Declared{ConductorArea: 4, StrandDiameter: 0.3, InsulationDiameter: 2 * wireHalf, SheetThickness: 0.7},
		BlurPX:   math.Sqrt(1 + 1./12), // two passes of 1-2-1 and the pixel's own square
	}
}

// binomial runs 1-2-1 twice along the step, within rows of the given length: a blur with the variance 1.
func binomial(v []float64, step, row int) {
	for range 2 {
		last := make([]float64, step)
		for i := range v {
			if i%row < step || i%row >= row-step {
				last[i%step] = v[i]
				continue
			}
			now := v[i]
			v[i] = (last[i%step] + 2*now + v[i+step]) / 4
			last[i%step] = now
		}
	}
}

var papers = map[string]paper{
	"square":      {rear: 0.7, front: 7.1, left: 2.05, right: -2.05, ground: 225, metal: 190},
	"dark ground": {rear: 0.7, front: 7.1, left: 2.05, right: -2.05, ground: 35, metal: 190},
	"unequal wings": {rear: 0.6, front: 6.4, left: 1.75, right: -2.3, seam: 0, seamSlope: 0.01, ground: 225, metal: 180,
		flare: 0.2, flareLength: 0.8},
	"turned":        {rear: 1.1, front: 7.4, left: 2.0, right: -1.9, ground: 225, metal: 190, turn: 0.02},
	"turned, aside": {rear: 0.8, front: 6.9, left: 2.1, right: -2.0, ground: 40, metal: 190, turn: -0.015, shift: 0.1},
}

// Sides and seam are held to 0.03 mm, ends to 0.05 mm: three quarters of a pixel, and one and a quarter, of a phone's picture.
func TestSleeveOnPaper(t *testing.T) {
	for name, p := range papers {
		t.Run(name, func(t *testing.T) {
			rec := record.New(record.Seam)
			b := newBench(p.drawn(t), &rec)
			s, why := b.findSleeve()
			require.Empty(t, why)
			// The bench's frame turns with the sleeve; it keeps the given origin.
			turn := b.frame.Angle
			assert.InDelta(t, p.turn, turn, 0.25*math.Pi/180, "direction of the axis")
			c, sn := math.Cos(turn-p.turn), math.Sin(turn-p.turn)
			place := func(x, y float64) (float64, float64) { // of the part, in the bench's frame
				y += p.shift * math.Cos(p.turn)
				x += p.shift * math.Sin(p.turn)
				return c*x + sn*y, c*y - sn*x
			}
			mid := (p.rear + p.front) / 2
			for _, v := range []struct {
				what string
				y    float64
				got  func(x float64) float64
				off  float64
			}{
				{"left side", p.left, s.left.at, 0.03},
				{"right side", p.right, s.right.at, 0.03},
				{"seam", p.seam, s.seam.at, 0.03},
			} {
				x, y := place(mid, v.y)
				assert.InDelta(t, y, v.got(x), v.off, v.what)
			}
			slope := math.Atan(p.seamSlope) - (turn - p.turn)
			assert.InDelta(t, slope, math.Atan2(s.seam.line.Dir.Y, s.seam.line.Dir.X), 0.2*math.Pi/180, "direction of the seam")
			rear, _ := place(p.rear, 0)
			front, _ := place(p.front, 0)
			assert.InDelta(t, rear, s.rearX, 0.05, "rear edge")
			assert.InDelta(t, front, s.frontX, 0.05, "front edge")
		})
	}
}

// A piece of 1.3 x 0.5 mm is missing in the left wing: what is missing is found there, and nothing anywhere else.
func TestMissingPieceOnPaper(t *testing.T) {
	whole := papers["dark ground"]
	holed := whole
	holed.hole = &[3]float64{3, 4.3, 0.5}
	for _, c := range []struct {
		name          string
		paper         paper
		length, depth float64
	}{{"whole", whole, 0, 0}, {"holed", holed, 1.3, 0.5}} {
		t.Run(c.name, func(t *testing.T) {
			rec := record.New(record.Seam)
			b := newBench(c.paper.drawn(t), &rec)
			s, why := b.findSleeve()
			require.Empty(t, why)
			b.missing(s, 0, 0.05)
			length, depth := rec.Measured[record.MissingLengthMax], rec.Measured[record.MissingDepthMax]
			if c.length == 0 {
				assert.Zero(t, length.Value)
				assert.Zero(t, depth.Value)
			}
			assert.InDelta(t, c.length, length.Value, length.U)
			assert.InDelta(t, c.depth, depth.Value, depth.U)
			gone := c.length / (whole.front - whole.rear)
			assert.InDelta(t, 1-gone, rec.Measured[record.CompletenessLeft].Value, rec.Measured[record.CompletenessLeft].U)
			assert.InDelta(t, 1, rec.Measured[record.CompletenessRight].Value, 1e-9)
		})
	}
}

// Where the picture shows no groove or no sides, the person is told so; nothing is made up.
func TestPaperWithoutASleeve(t *testing.T) {
	blank := papers["dark ground"].drawn(t)
	for i := range blank.Image.Pix {
		blank.Image.Pix[i] = 128
	}
	rec := record.New(record.Seam)
	Seam(blank, &rec)
	assert.Len(t, rec.Retake, 1)
	assert.Empty(t, rec.Measured)
}
