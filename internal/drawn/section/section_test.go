package section

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

// grey gives a picture's brightness, 0..1.
func grey(img image.Image) func(x, y int) float64 {
	return func(x, y int) float64 {
		r, g, b, _ := img.At(x, y).RGBA()
		return (float64(r) + float64(g) + float64(b)) / 3 / 65535
	}
}

// crossing is where the brightness passes the level on the way from a to b (pixels), by linear interpolation of a
// picture that is read bilinearly; NaN where it does not.
func crossing(img image.Image, a, b Point, level float64) float64 {
	at := grey(img)
	read := func(p Point) float64 {
		x, y := int(math.Floor(p.X)), int(math.Floor(p.Y))
		u, v := p.X-float64(x), p.Y-float64(y)
		return (1-v)*((1-u)*at(x, y)+u*at(x+1, y)) + v*((1-u)*at(x, y+1)+u*at(x+1, y+1))
	}
	long := b.sub(a).norm()
	const step = 0.1
	last := read(a)
	for s := step; s <= long; s += step {
		now := read(a.mix(b, s/long))
		if (last-level)*(now-level) <= 0 && last != now {
			return s - step + step*(level-last)/(now-last)
		}
		last = now
	}
	return math.NaN()
}

// Void ratios of endless packings: 1 - pi/(2·sqrt(3)) = 0.0931 hexagonal (the densest packing of circles in the plane,
// Thue 1910) and 1 - pi/4 = 0.2146 square; both also plain geometry of one cell.
func TestPackingsHaveTheirVoidRatio(t *testing.T) {
	hex, square := Packing(Hex, 0.2, 7, 6, 0.4, 0.004).Truth(), Packing(Square, 0.2, 7, 6, 0.4, 0.004).Truth()
	assert.InDelta(t, 1-math.Pi/(2*math.Sqrt(3)), hex.Values[record.VoidRatio], 1e-5)
	assert.InDelta(t, 0.0931, hex.Values[record.VoidRatio], 5e-5)
	assert.InDelta(t, 1-math.Pi/4, square.Values[record.VoidRatio], 1e-5)
	assert.InDelta(t, 0.2146, square.Values[record.VoidRatio], 5e-5)
}

// The picture itself, not only its polygons, has that share: with three brightnesses and exact coverage the mean over the
// cavity tells the void's share. The field about the cavity is metal of known brightness.
func TestPictureOfAPackingHasItsVoidRatio(t *testing.T) {
	s := Packing(Hex, 0.25, 4, 4, 0.4, 0.005)
	s.Look.GrooveDark, s.Look.Void, s.Optics.BlurPX = 0, [3]float64{}, 0
	img, truth := s.Draw()
	at := grey(img)
	lo, hi := Polygon(pixels(truth.Aid.Cavity[0])).box()
	sum := 0.
	x0, x1, y0, y1 := int(lo.X)-3, int(hi.X)+4, int(lo.Y)-3, int(hi.Y)+4
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			sum += at(x, y)
		}
	}
	frame := float64((x1-x0)*(y1-y0)) - (hi.X-lo.X)*(hi.Y-lo.Y)
	strands := (sum - frame*at(x0, y0)) / 0.6 / ((hi.X - lo.X) * (hi.Y - lo.Y))
	assert.InDelta(t, truth.Values[record.VoidRatio], 1-strands, 0.002)
}

func pixels(l [][2]float64) []Point {
	out := make([]Point, len(l))
	for i, p := range l {
		out[i] = Point{p[0], p[1]}
	}
	return out
}

func TestEdgeOfADiscLiesWhereTruthSays(t *testing.T) {
	const mm, px = 1.3, 0.005
	s := Disc(mm, px)
	s.Optics.BlurPX = 1.2 // so that reading between pixels adds no error of its own
	img, truth := s.Draw()
	centre := Point{truth.Aid.MMToPX[4], truth.Aid.MMToPX[5]}
	for deg := 0.; deg < 360; deg += 3 {
		sin, cos := math.Sincos(radians(deg))
		way := Point{cos, sin}
		r := mm / px / 2
		at := r - 5 + crossing(img, centre.add(way.mul(r-5)), centre.add(way.mul(r+5)), (0.85+0.2)/2)
		// A bell's blur moves the edge of a disc inwards by sigma²/(2r): 0.006 px here.
		assert.InDelta(t, r, at, 0.05, "at %v deg", deg)
	}
}

func TestEdgesOfATurnedPlateLieWhereTruthSays(t *testing.T) {
	for _, turn := range []float64{0, 0.7, 17, 45, 90, 211} {
		s := Plate(rectangle(0.9, 0.6), 0.005)
		s.TurnDeg, s.Width, s.Height, s.ShiftPX = turn, 340, 340, [2]float64{0.37, -0.21}
		img, truth := s.Draw()
		corners := pixels(truth.Aid.Sleeve)
		for i, a := range corners {
			b := corners[(i+1)%len(corners)]
			d := b.sub(a).mul(1 / b.sub(a).norm())
			n := Point{-d.Y, d.X}
			for _, k := range []float64{0.2, 0.5, 0.83} {
				p := a.mix(b, k)
				at := crossing(img, p.add(n.mul(-5)), p.add(n.mul(5)), (0.85+0.2)/2) - 5
				// Aid gives pixels to 0.01.
				assert.InDelta(t, 0, at, 0.05, "turn %v, side %d", turn, i)
			}
		}
	}
}

// bare is a sleeve whose numbers can be told without any program: straight upright wings, no bend, no wave.
func bare() Scene {
	h := Half{WallMM: 0.5, RoofMM: 0.5, CornerMM: 0.3, InnerMM: 0.1, HeightMM: 2.5, TopAt: 0.5, ShoulderMM: 1.6, OuterExp: 2, SeamExp: 2, SeamTopMM: 2,
		CurlFromMM: 1.7, WingMM: 0.5, SheetMM: 0.5, TipSheetMM: 0.5, Tip: Tip{0.2, 2, 1}, RoofRoundMM: 0.1}
	s := plainScene(Geometry{Sheet: []Polygon{rectangle(3.4, 2.5)}}, 0.005)
	s.Exact = nil
	s.Sleeve = Sleeve{WidthMM: 3.4, FloorMM: 0.55, Left: h, Right: h}
	s.Fill = Fill{Strands: 30, CornerMM: 0.02}
	return s
}

func TestTruthOfABareSleeve(t *testing.T) {
	v := bare().Truth().Values
	for key, want := range map[record.Key]float64{
		record.CrimpHeight: 2.5, record.CrimpWidth: 3.4, record.FloorThickness: 0.55, record.WingOpening: 0,
		record.WingTipFloorLeft: 1.7 - 0.5 - 0.2 - 0.55, record.WingTipFloorRight: 1.7 - 0.5 - 0.2 - 0.55,
		record.WingTipHeightDifference: 0, record.Symmetry: 1, record.StrandCount: 30,
		record.BurrHeightLeft: 0, record.BurrWidthRight: 0,
	} {
		assert.InDelta(t, want, v[key], 2e-4, key)
	}
}

func TestTruthOfAnOpenSleeveWithBurrs(t *testing.T) {
	s := bare()
	s.Sleeve.OpeningMM = 0.2
	s.Sleeve.Left.WingMM = 0.4
	s.Sleeve.Left.Burr = &Burr{HeightMM: 0.15, WidthMM: 0.1, FootMM: 0.25, Blunt: 0.3}
	s.Sleeve.Right.Burr = &Burr{HeightMM: 0.08, WidthMM: 0.2, FootMM: 0.25, Blunt: 0.3}
	require.True(t, s.Sleeve.sound())
	v := s.Truth().Values
	for key, want := range map[record.Key]float64{
		record.CrimpHeight: 2.5, record.CrimpWidth: 3.4, record.WingOpening: 0.2, record.WingTipHeightDifference: 0.1,
		record.WingTipFloorLeft: 0.55, record.WingTipFloorRight: 0.45,
		record.BurrHeightLeft: 0.15, record.BurrWidthLeft: 0.1, record.BurrHeightRight: 0.08, record.BurrWidthRight: 0.2,
	} {
		assert.InDelta(t, want, v[key], 5e-4, key)
	}
}

// Areas of a drawn section against counting points of a grid, each with its own even-odd test: nothing lies in two parts.
func TestAreasAgainstCounting(t *testing.T) {
	for _, seed := range []int64{8, 22} {
		s := Random(seed)
		truth := s.Truth()
		g := truth.Geometry
		lo, hi := g.Sheet[0].box()
		const step = 0.009
		type boxed struct {
			p      Polygon
			lo, hi Point
		}
		var parts []boxed
		for _, p := range g.Strands {
			a, b := p.box()
			parts = append(parts, boxed{p, a, b})
		}
		inStrands, inCavity := 0, 0
		for y := lo.Y + 0.0013; y < hi.Y; y += step {
			for x := lo.X + 0.0017; x < hi.X; x += step {
				q := Point{x, y}
				cavity, strands := 0, 0
				for _, c := range g.Cavities {
					if c.contains(q) {
						cavity++
					}
				}
				for _, p := range parts {
					if x >= p.lo.X && x <= p.hi.X && y >= p.lo.Y && y <= p.hi.Y && p.p.contains(q) {
						strands++
					}
				}
				require.LessOrEqual(t, strands, 1, "seed %d: %v lies in two strands", seed, q)
				if strands > cavity { // a chord beside a wall that bulges inwards may cut off some hundredths of a micrometre
					off := math.Inf(1)
					for _, c := range g.Cavities {
						d, _, _ := c.edges().distance(q)
						off = min(off, d)
					}
					require.Less(t, off, 0.0002, "seed %d: a strand outside the cavity at %v", seed, q)
				}
				if cavity > 0 {
					require.False(t, g.Sheet[0].contains(q), "seed %d: cavity and sleeve at %v", seed, q)
				}
				inStrands, inCavity = inStrands+strands, inCavity+cavity
			}
		}
		area := step * step * float64(inStrands)
		assert.InEpsilon(t, area, truth.Values[record.ConductorArea], 0.006, "seed %d", seed)
		assert.InDelta(t, 1-float64(inStrands)/float64(inCavity), truth.Values[record.VoidRatio], 0.006, "seed %d", seed)
	}
}

func TestMirroredSceneSwapsLeftAndRight(t *testing.T) {
	s := Random(16)
	s.Mirrored = false
	m := s
	m.Mirrored = true
	a, b := s.Truth().Values, m.Truth().Values
	for _, k := range [][2]record.Key{{record.BurrHeightLeft, record.BurrHeightRight}, {record.BurrWidthLeft, record.BurrWidthRight},
		{record.WingTipFloorLeft, record.WingTipFloorRight}, {record.Symmetry, record.Symmetry}, {record.ConductorArea, record.ConductorArea},
		{record.VoidRatio, record.VoidRatio}, {record.CrimpWidth, record.CrimpWidth}, {record.WingTipHeightDifference, record.WingTipHeightDifference}} {
		assert.InDelta(t, a[k[0]], b[k[1]], 1e-9, k[0])
		assert.InDelta(t, a[k[1]], b[k[0]], 1e-9, k[1])
	}
	assert.NotEqual(t, a[record.WingTipFloorLeft], a[record.WingTipFloorRight])
}

func TestPictureOfAMirroredSceneIsMirrored(t *testing.T) {
	s := bare()
	s.Look.GrainMM, s.Look.GrainTone, s.Look.GrainLine, s.Look.StrandTone = 0.03, 0.05, 0.1, 0.05
	s.Sleeve.Left.WingMM, s.MMPerPX, s.Width, s.Height = 0.3, 0.01, 380, 300
	m := s
	m.Mirrored = true
	a, _ := s.Draw()
	b, _ := m.Draw()
	p, q := grey(a), grey(b)
	worst, differs := 0., 0.
	for y := range s.Height {
		for x := range s.Width {
			worst = max(worst, math.Abs(p(x, y)-q(s.Width-1-x, y)))
			differs = max(differs, math.Abs(p(x, y)-q(x, y)))
		}
	}
	assert.Less(t, worst, 0.02)
	assert.Greater(t, differs, 0.2)
}

func TestRandomScenesAreSound(t *testing.T) {
	for seed := int64(101); seed < 111; seed++ {
		s := Random(seed)
		truth := s.Truth()
		v, g := truth.Values, truth.Geometry
		assert.True(t, s.Sleeve.sound(), "seed %d", seed)
		assert.Len(t, g.Strands, s.Fill.Strands, "seed %d", seed)
		for _, key := range record.Keys(record.Section) {
			x, ok := v[key]
			assert.True(t, ok && !math.IsNaN(x) && x > -0.05, "seed %d: %s = %v", seed, key, x)
		}
		assert.True(t, v[record.VoidRatio] > 0 && v[record.VoidRatio] < 0.4, "seed %d: void ratio %v", seed, v[record.VoidRatio])
		assert.LessOrEqual(t, v[record.Symmetry], 1., "seed %d", seed)
		for _, p := range pixels(truth.Aid.Sleeve) {
			require.True(t, p.X > 5 && p.Y > 5 && p.X < float64(s.Width)-6 && p.Y < float64(s.Height)-6, "seed %d leaves the picture at %v", seed, p)
		}
		// Metal and cavities fill the outline, but for the slit above the contact.
		total := g.CavityArea()
		for _, p := range g.Sheet {
			total += p.Area()
		}
		assert.InEpsilon(t, g.outline.Area(), total, 0.02, "seed %d", seed)
	}
}
