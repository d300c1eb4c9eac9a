package overlay

import (
	"bytes"
	"cmp"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

// section is a drawn micrograph of half size, and a record of it whose marks come from the polygons that it was drawn
// from; values and uncertainties are made up from the same, and the crack is invented. Nothing of it was measured.
func section(t testing.TB) (image.Image, record.Record) {
	t.Helper()
	var in struct {
		Record record.Record
		Marks  []record.Mark
	}
	data, err := os.ReadFile("testdata/section.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &in))
	file, err := os.Open("testdata/section.jpg")
	require.NoError(t, err)
	defer func() { _ = file.Close() }()
	img, err := jpeg.Decode(file)
	require.NoError(t, err)
	in.Record.Marks = in.Marks
	return img, in.Record
}

// judgedSection has one feature of each result.
func judgedSection(t testing.TB) (image.Image, record.Record) {
	img, rec := section(t)
	delete(rec.Measured, record.Symmetry)
	rec.Miss(record.Symmetry, "scratches hide where the wings touch")
	low, high := 0.45, 0.6
	rec.Verdict = &record.Verdict{Result: record.DoesNotConform, Score: 31.4, Tolerances: "laboratory (example limits)",
		Features: []record.Feature{
			{Key: record.FloorThickness, Result: record.DoesNotConform, Min: &low},
			{Key: record.BurrHeightLeft, Result: record.Conforms, Max: &high},
			{Key: record.StrandCount, Result: record.NotProven, Min: &low},
			{Key: record.Symmetry, Result: record.NotMeasured, Min: &low},
		}}
	return img, rec
}

// prepared is a sheet that is laid out and not yet drawn.
func prepared(img image.Image, rec record.Record) (*sheet, []dimension) {
	d, lengths := newSheet(img, rec)
	return d, d.dimensions(lengths)
}

func TestSectionSheetShowsEverything(t *testing.T) {
	img, rec := judgedSection(t)
	got := Draw(img, rec)
	look(t, "section.png", got)
	slices.SortStableFunc(rec.Marks, func(a, b record.Mark) int { return cmp.Compare(b.Key, a.Key) })
	assert.Equal(t, got.Pix, Draw(img, rec).Pix, "the same record gives the same drawing, in whatever order its measurands' marks come")

	for name, hue := range map[string]color.RGBA{"sleeve": sleeveHue, "cavity": cavityHue, "void": voidHue, "crack": crackHue, "print": print1} {
		assert.Positive(t, count(got, hue), "no pixel in the hue of %s", name)
	}
	for result, hue := range resultHues {
		assert.Positive(t, count(got, hue), "no pixel in the hue of %s", result)
	}
	rec.Verdict = nil
	bare := Draw(img, rec)
	for result, hue := range resultHues {
		if result != record.NotMeasured { // whose grey serves for names too
			assert.Zero(t, count(bare, hue), "not judged, but the hue of %s is there", result)
		}
	}
}

// TestEveryValueHasAPlace: a value that was measured stands at a dimension line or in the table, never in both.
func TestEveryValueHasAPlace(t *testing.T) {
	img, rec := judgedSection(t)
	d, dims := prepared(img, rec)
	rows := d.rows()
	for key := range rec.Measured {
		at := slices.ContainsFunc(dims, func(m dimension) bool { return m.key == key })
		assert.NotEqual(t, at, slices.Contains(rows, key), key)
	}
	assert.Contains(t, rows, record.Symmetry, "judged, though not measured")
	assert.Contains(t, rows, record.WingOpening, "an opening of 0 has no dimension line")
	labels := d.callouts(dims)
	assert.Len(t, labels, len(dims)+1, "a label for each length and one for the crack")

	d, dims = prepared(img, record.Record{View: record.Section, Measured: rec.Measured})
	assert.Empty(t, dims)
	assert.Len(t, d.rows(), len(rec.Measured), "without marks all values stand in the table")
}

// TestDimensionLines: the lines of height and width stand outside the sleeve, square to each other, and are as long as
// the values that they show. The record's values and marks come from the same polygons, in pixels rounded to 0.1.
func TestDimensionLines(t *testing.T) {
	img, rec := section(t)
	d, dims := prepared(img, rec)
	var height, width dimension
	for _, m := range dims {
		length := math.Hypot(m.b.X-m.a.X, m.b.Y-m.a.Y) / d.zoom * rec.Scale.MMPerPX
		assert.InDelta(t, rec.Measured[m.key].Value, length, 3*0.1*rec.Scale.MMPerPX+0.004, "%s", m.key)
		switch m.key {
		case record.CrimpHeight:
			height = m
		case record.CrimpWidth:
			width = m
		}
	}
	require.NotZero(t, height)
	require.NotZero(t, width)
	u, v := sub(height.b, height.a), sub(width.b, width.a)
	assert.InDelta(t, 0, dot(u, v)/math.Hypot(u.X, u.Y)/math.Hypot(v.X, v.Y), 1e-6, "square to each other")
	assert.InDelta(t, 0, dot(u, d.right)/math.Hypot(u.X, u.Y), 1e-6, "turned with the part")
	d.each(record.MarkSleeve, func(_ record.Mark, points []record.Point) {
		for _, p := range points {
			assert.Less(t, dot(p, d.right), dot(height.a, d.right)-20*d.unit)
			assert.Less(t, dot(p, d.up), dot(width.a, d.up)-20*d.unit)
		}
	})
	for _, m := range dims {
		for _, p := range []record.Point{m.a, m.b} {
			x := int(p.X)
			assert.True(t, x > d.n(sheetColumn) && x < d.img.Bounds().Dx()-d.n(sheetColumn), "%s does not run into the labels", m.key)
		}
	}
}

func sub(a, b record.Point) record.Point { return record.Point{X: a.X - b.X, Y: a.Y - b.Y} }

// TestSheetTurnsWithThePart: however the part lies in the picture, the lines keep their lengths and the labels their room.
func TestSheetTurnsWithThePart(t *testing.T) {
	img, rec := section(t)
	level, before := prepared(img, rec)
	square := image.NewGray(image.Rect(0, 0, 900, 900))
	rapid.Check(t, func(t *rapid.T) {
		angle := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle")
		sin, cos := math.Sincos(angle)
		moved := rec
		moved.Marks = nil
		for _, m := range rec.Marks {
			points := make([]record.Point, len(m.Points))
			for i, p := range m.Points {
				x, y := p.X-320, p.Y-240
				points[i] = pt(450+cos*x-sin*y, 450+sin*x+cos*y)
			}
			m.Points = points
			moved.Marks = append(moved.Marks, m)
		}
		d, dims := prepared(square, moved)
		for i, m := range dims {
			was := math.Hypot(before[i].b.X-before[i].a.X, before[i].b.Y-before[i].a.Y)
			is := math.Hypot(m.b.X-m.a.X, m.b.Y-m.a.Y)
			if math.Abs(was/level.zoom-is/d.zoom) > 0.01 {
				t.Fatalf("%s: %v px, turned %v px", m.key, was/level.zoom, is/d.zoom)
			}
		}
		labels := d.callouts(dims)
		for i, a := range labels {
			if a.y-calloutHeight/2*d.unit < float64(d.columnTop())-1e-6 || a.y+calloutHeight/2*d.unit > float64(d.columnBottom())+1e-6 {
				t.Fatalf("%s at %v is outside its column", a.name, a.y)
			}
			for _, b := range labels[:i] {
				if a.left == b.left && math.Abs(a.y-b.y) < calloutHeight*d.unit-1e-6 {
					t.Fatalf("%s and %s overlap", a.name, b.name)
				}
			}
		}
	})
}

// TestSheetGrowsWithThePicture: text and lines keep their share of the sheet, so that it reads alike in print.
func TestSheetGrowsWithThePicture(t *testing.T) {
	_, rec := section(t)
	for _, scale := range []float64{1, 2, 4.05} { // 640, 1280 and 2592 pixels wide
		grown := rec
		grown.Marks = nil
		for _, m := range rec.Marks {
			points := make([]record.Point, len(m.Points))
			for i, p := range m.Points {
				points[i] = pt(p.X*scale, p.Y*scale)
			}
			m.Points = points
			grown.Marks = append(grown.Marks, m)
		}
		d, _ := prepared(image.NewGray(image.Rect(0, 0, int(640*scale), int(480*scale))), grown)
		const points = (210 - 2*15) / 25.4 * 72 // of an A4 page less two margins
		small := sheetSmall * d.unit / float64(d.img.Bounds().Dx()) * points
		assert.InDelta(t, 6.15, small, 0.15, "x %v: 6 points or a little more", scale)
		assert.GreaterOrEqual(t, d.zoom, 1.0, "no detail of the picture is lost")
	}
}

// TestScaleBarHasItsLength looks for the bar in the drawing and compares it with the length that it claims.
func TestScaleBarHasItsLength(t *testing.T) {
	img, rec := section(t)
	d, _ := prepared(img, rec)
	got := Draw(img, rec)
	y := d.foot - d.n(34)
	longest, run := 0, 0
	for x := range got.Bounds().Dx() {
		if got.RGBAAt(x, y) == print1 {
			run++
			longest = max(longest, run)
		} else {
			run = 0
		}
	}
	mm := float64(longest) / d.zoom * rec.Scale.MMPerPX
	assert.InDelta(t, 0.5, mm, 1.5/d.zoom*rec.Scale.MMPerPX, "500 µm, to a pixel and a half")
}

func TestRoundLength(t *testing.T) {
	for most, want := range map[float64]float64{1.99: 1, 2: 2, 4.99: 2, 5: 5, 0.73: 0.5, 0.0999: 0.05, 10: 10} {
		assert.InEpsilon(t, want, roundLength(most), 1e-12, "%v", most)
	}
}

// TestLab compares with CIELAB values of sRGB's corners as commonly published (D65, from memory).
func TestLab(t *testing.T) {
	for want, c := range map[color.RGBA]lab{
		{255, 0, 0, 255}:     {53.24, 80.09, 67.20},
		{0, 255, 0, 255}:     {87.73, -86.18, 83.18},
		{0, 0, 255, 255}:     {32.30, 79.19, -107.86},
		{255, 255, 255, 255}: {100, 0, 0},
		{119, 119, 119, 255}: {50.03, 0, 0},
	} {
		got := c.rgb()
		for _, pair := range [][2]uint8{{want.R, got.R}, {want.G, got.G}, {want.B, got.B}} {
			assert.InDelta(t, float64(pair[0]), float64(pair[1]), 1.5, "%v", want)
		}
	}
}

// TestAreaHuesAreEven: the two legs are equally long, so that equal steps of area are equal steps in CIELAB; none of the
// colours is cut off by sRGB; lightness rises all the way; and no colour is grey.
func TestAreaHuesAreEven(t *testing.T) {
	leg := func(a, b lab) float64 {
		return math.Hypot(math.Hypot(b.l-a.l, b.a-a.a), b.b-a.b)
	}
	assert.InEpsilon(t, leg(areaHues[0], areaHues[1]), leg(areaHues[1], areaHues[2]), 0.02)

	last := -1.0
	for i := range 101 {
		c := areaHue(float64(i) / 100)
		luminance := 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
		assert.Greater(t, luminance, last, "%d %%", i)
		last = luminance
		assert.Greater(t, float64(max(c.R, c.G, c.B))-float64(min(c.R, c.G, c.B)), 50.0, "%d %%: %v", i, c)
		for _, v := range []uint8{c.R, c.G, c.B} {
			assert.True(t, v > 0 && v < 255, "%d %%: %v is cut off", i, c)
		}
	}
	assert.Equal(t, areaHue(0), areaHue(-3))
	assert.Equal(t, areaHue(1), areaHue(7))
}

// linear is the light of an sRGB value, 0 to 1 (IEC 61966-2-1).
func linear(v uint8) float64 {
	c := float64(v) / 255
	if c <= 0.04045 {
		return c / 12.92
	}
	return math.Pow((c+0.055)/1.055, 2.4)
}

func TestAreaScale(t *testing.T) {
	strands := func(areas ...float64) (marks []record.Mark) {
		for _, a := range areas {
			marks = append(marks, record.Mark{Kind: record.MarkStrand, Size: a})
		}
		return marks
	}
	s, ok := newAreaScale(strands(0.05, 0.05, 0.05))
	require.True(t, ok)
	assert.Equal(t, areaScale{0.05, 0.2}, s, "equal strands look equal")
	assert.Equal(t, areaHue(0.5), s.hue(0.05))
	assert.Equal(t, areaHue(1), s.hue(0.06))
	s, _ = newAreaScale(strands(0.6, 1, 1.31, math.NaN(), 0))
	assert.InDelta(t, 1, s.median, 1e-12)
	assert.InDelta(t, 0.35, s.spread, 1e-12)
	_, ok = newAreaScale(strands(0))
	assert.False(t, ok)
}

func TestRefusedSectionSaysWhy(t *testing.T) {
	img, _ := section(t)
	rec := record.New(record.Section)
	rec.Image = "laboratory/contact-4-section-03.png"
	rec.Refuse("the section runs out of the picture at its left edge: move it until resin shows all round it")
	got := Draw(img, rec)
	look(t, "section-refused.png", got)
	assert.Positive(t, count(got, resultHues[record.NotMeasured]))
	d, _ := prepared(img, rec)
	foot := got.SubImage(image.Rect(0, d.foot+d.n(4), got.Bounds().Dx(), got.Bounds().Dy())).(*image.RGBA)
	inked := 0
	for y := foot.Rect.Min.Y; y < foot.Rect.Max.Y; y++ {
		for x := foot.Rect.Min.X; x < foot.Rect.Max.X; x++ {
			if foot.RGBAAt(x, y) == print1 {
				inked++
			}
		}
	}
	assert.Greater(t, inked, 500, "the reason stands in the foot")
	// The picture is shown as it is: the middle of the panel has the source's own mean, not a dimmed one.
	at := image.Pt((d.panel.Min.X+d.panel.Max.X)/2, (d.panel.Min.Y+d.panel.Max.Y)/2)
	var drawn, source float64
	for dy := -20; dy < 20; dy++ {
		for dx := -20; dx < 20; dx++ {
			drawn += float64(got.RGBAAt(at.X+dx, at.Y+dy).G)
			_, g, _, _ := img.At(320+dx/2, 240+dy/2).RGBA()
			source += float64(g >> 8)
		}
	}
	assert.InEpsilon(t, source, drawn, 0.03)
}

// TestSectionSurvivesAnything: broken or absurd marks, of every kind, in pictures of any shape.
func TestSectionSurvivesAnything(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	kinds := []record.MarkKind{record.MarkSleeve, record.MarkCavity, record.MarkStrand, record.MarkVoid, record.MarkCrack, record.MarkFloor,
		record.MarkTip, record.MarkLength, record.MarkScan, "of a later version"}
	keys := append(record.Keys(record.Section), "")
	for _, size := range []image.Point{{1, 1}, {3000, 2}, {2, 3000}, {640, 480}} {
		rec := record.New(record.Section)
		rec.Scale = &record.Scale{Kind: "known", MMPerPX: nan}
		for i, key := range keys[:len(keys)-1] {
			rec.Set(key, float64(i), 0.1)
		}
		for i, points := range [][]record.Point{nil, {}, {pt(nan, 1), pt(2, 2)}, {pt(inf, 1)}, {pt(5, 5)}, {pt(5, 5), pt(5, 5)},
			{pt(-9e5, 0), pt(9e5, 10)}, {pt(-9e5, -9e5), pt(9e5, -9e5), pt(0, 9e5)}} {
			for k, kind := range kinds {
				rec.Marks = append(rec.Marks, record.Mark{Kind: kind, Key: keys[(i+k)%len(keys)], Points: points, Size: []float64{0.1, nan, -1}[i%3]})
			}
		}
		assert.NotPanics(t, func() { Draw(image.NewGray(image.Rectangle{Max: size}), rec) }, size)
	}
}

func BenchmarkDrawSection(b *testing.B) {
	img, rec := judgedSection(b)
	for b.Loop() {
		_ = Encode(&bytes.Buffer{}, Draw(img, rec))
	}
}
