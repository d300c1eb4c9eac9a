package overlay

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

func pt(x, y float64) record.Point { return record.Point{X: x, Y: y} }

// madeUp is an invented record over an invented picture: a wire, a sleeve with a seam and a body on a grey card, not
// measured anywhere.
func madeUp() (*image.RGBA, record.Record) {
	img := image.NewRGBA(image.Rect(0, 0, 2400, 1800))
	for y := range 1800 {
		for x := range 2400 {
			c := color.RGBA{150, 155, 150, 255}
			switch {
			case x > 1500 && x < 2200 && y > 200 && y < 700 && (x/70+y/70)%2 == 0:
				c = color.RGBA{20, 20, 20, 255}
			case x > 300 && x < 780 && y > 1010 && y < 1190:
				c = color.RGBA{30, 30, 34, 255}
			case x >= 780 && x < 815 && y > 1050 && y < 1150:
				c = color.RGBA{190, 120, 70, 255}
			case x >= 815 && x < 1020 && y > 1050 && y < 1150:
				c = color.RGBA{205, 205, 210, 255}
				if y == 1100 {
					c = color.RGBA{60, 60, 60, 255}
				}
			case x >= 1020 && x < 1048 && y > 1060 && y < 1140:
				c = color.RGBA{190, 120, 70, 255}
			case x >= 1048 && x < 1500 && y > 1065 && y < 1135:
				c = color.RGBA{215, 215, 220, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	rec := record.New(record.Seam)
	rec.Image = "canopy/crew-a-017.jpg"
	rec.Scale = &record.Scale{Kind: "chessboard", MMPerPX: 0.032104, URel: 0.0021, TiltDeg: 4.13}
	add := func(kind record.MarkKind, key record.Key, points ...record.Point) {
		rec.Marks = append(rec.Marks, record.Mark{Kind: kind, Key: key, Points: points})
	}
	set := func(key record.Key, value, u float64, kind record.MarkKind, points ...record.Point) {
		rec.Set(key, value, u)
		add(kind, key, points...)
	}
	for y := 1060.0; y <= 1140; y += 8 {
		add(record.MarkScan, record.InsulationGapMax, pt(781, y), pt(814, y))
	}
	set(record.InsulationGapMean, 1.082, 0.042, record.MarkLength, pt(780, 1070), pt(815, 1070))
	set(record.InsulationGapMax, 1.123, 0.051, record.MarkLength, pt(779, 1120), pt(815, 1120))
	set(record.BrushMean, 0.83, 0.11, record.MarkLength, pt(1020, 1090), pt(1045, 1090))
	set(record.SleeveLength, 6.481, 0.029, record.MarkLength, pt(815, 1165), pt(1020, 1165))
	set(record.SleeveWidth, 3.202, 0.029, record.MarkLength, pt(990, 1050), pt(990, 1150))
	set(record.WingWidthLeft, 1.583, 0.021, record.MarkLength, pt(900, 1050), pt(900, 1100))
	set(record.WingWidthRight, 1.604, 0.021, record.MarkLength, pt(920, 1100), pt(920, 1150))
	set(record.StrayLongest, 2.31, 0.30, record.MarkStray, pt(800, 1055), pt(806, 1020), pt(826, 990), pt(840, 985))
	set(record.MissingLengthMax, 0.71, 0.06, record.MarkMiss, pt(940, 1092), pt(962, 1092), pt(962, 1101), pt(940, 1101))
	add(record.MarkEdge, record.SeamAngle, pt(815, 1100.4), pt(1020, 1099.1))
	rec.Set(record.SeamAngle, 0.36, 0.31)
	add(record.MarkEdge, "", pt(815, 1050), pt(1020, 1050))
	add(record.MarkEdge, "", pt(815, 1150), pt(1020, 1150))
	add(record.MarkAxis, "", pt(760, 1100), pt(1100, 1100))
	for y := 210.0; y < 700; y += 70 {
		for x := 1540.0; x < 2200; x += 70 {
			rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkScale, Points: []record.Point{pt(x, y)}})
		}
	}
	rec.Verdict = &record.Verdict{Result: record.DoesNotConform, Score: 4.2, Features: []record.Feature{
		{Key: record.InsulationGapMax, Result: record.DoesNotConform}, {Key: record.BrushMean, Result: record.Conforms}}}
	return img, rec
}

// look writes the drawing to the folder that LOOK names, for a person.
func look(t *testing.T, name string, img image.Image) {
	if dir := os.Getenv("LOOK"); dir != "" {
		var b bytes.Buffer
		require.NoError(t, Encode(&b, img))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644))
	}
}

func TestDrawShowsEveryKindAndLeavesThePictureAlone(t *testing.T) {
	src, rec := madeUp()
	before := bytes.Clone(src.Pix)
	got := Draw(src, rec)
	look(t, "made-up.png", got)
	assert.Equal(t, before, src.Pix)
	assert.Equal(t, got.Pix, Draw(src, rec).Pix, "the same record gives the same drawing")

	// Every kind's own hue is somewhere in the part's panel, but for the scale's, which only the legend shows here.
	for kind, s := range styles {
		if kind != record.MarkCut { // of a stripped wire
			assert.Positive(t, count(got, s.hue), "no pixel in the hue of %s", kind)
		}
	}

	var file bytes.Buffer
	require.NoError(t, Encode(&file, got))
	back, err := png.Decode(&file)
	require.NoError(t, err)
	assert.Equal(t, got.Bounds(), back.Bounds())
}

// stripped is an invented record over an invented picture: an end of wire with its strands bare, one of them cut short.
func stripped() (*image.RGBA, record.Record) {
	img := image.NewRGBA(image.Rect(0, 0, 1600, 1000))
	for y := range 1000 {
		for x := range 1600 {
			c := color.RGBA{150, 155, 150, 255}
			switch {
			case x > 100 && x < 600 && y > 410 && y < 590:
				c = color.RGBA{30, 30, 34, 255}
			case x >= 600 && x < 850 && y > 450 && y < 550 && (x < 780 || y < 470 || y > 480):
				c = color.RGBA{190, 120, 70, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	rec := record.New(record.Strip)
	rec.Image = "workshop/trainee-3-end-02.jpg"
	rec.Scale = &record.Scale{Kind: "rule", MMPerPX: 0.031, URel: 0.004}
	mark := func(kind record.MarkKind, key record.Key, points ...record.Point) {
		rec.Marks = append(rec.Marks, record.Mark{Kind: kind, Key: key, Points: points})
	}
	rec.Set(record.StripLength, 7.75, 0.09)
	mark(record.MarkLength, record.StripLength, pt(600, 520), pt(850, 520))
	rec.Set(record.Splay, 1.08, 0.04)
	mark(record.MarkLength, record.Splay, pt(700, 446), pt(700, 554))
	rec.Set(record.CutStrands, 1, 0)
	mark(record.MarkCut, record.CutStrands, pt(780, 475), pt(850, 475))
	rec.Set(record.InsulationCutAngle, 1.1, 0.8)
	mark(record.MarkEdge, record.InsulationCutAngle, pt(598, 410), pt(602, 590))
	rec.Set(record.StrandEndSpread, 2.17, 0.12)
	mark(record.MarkLength, record.StrandEndSpread, pt(780, 462), pt(850, 462))
	mark(record.MarkAxis, "", pt(560, 500), pt(900, 500))
	for x := 200.0; x < 1400; x += 32 {
		mark(record.MarkScale, "", pt(x, 800))
	}
	return img, rec
}

// A value without a place, and one that was judged and not had, stands below the picture: what calls for action first, and
// nothing that a label shows already.
func TestValuesWithoutAPlace(t *testing.T) {
	src, rec := madeUp()
	rec.Set(record.Symmetry, 0.71, 0.05)
	rec.Set(record.Bend, 1.2, 0.9)
	rec.Verdict.Features = append(rec.Verdict.Features, record.Feature{Key: record.Bend, Result: record.Conforms},
		record.Feature{Key: record.CompletenessLeft, Result: record.NotMeasured}, record.Feature{Key: record.Symmetry, Result: record.DoesNotConform})
	assert.Equal(t, []other{{"symmetry of left and right: 0.710 ± 0.050", record.DoesNotConform},
		{"completeness of the left wing's edge", record.NotMeasured}, {"bend between sleeve and contact body: (1.20 ± 0.90)°", record.Conforms}},
		others(rec, rec.Marks))
	got := Draw(src, rec)
	look(t, "others.png", got)
	rec.Verdict.Features = rec.Verdict.Features[:2]
	assert.NotEqual(t, got.Pix, Draw(src, rec).Pix)
	rec.Refuse("too dark")
	assert.Empty(t, others(rec, rec.Marks))
}

// A stripped wire is drawn as the crimps are: a strand that was cut short has its mark and its line in the legend.
func TestDrawOfAStrippedWire(t *testing.T) {
	src, rec := stripped()
	got := Draw(src, rec)
	look(t, "stripped.png", got)
	assert.Positive(t, count(got, styles[record.MarkCut].hue))
	d := drawing{src: src, rec: rec, marks: Drawable(rec.Marks)}
	d.layOut()
	assert.Len(t, labels(rec, d.marks, d.toPanel), len(record.Keys(record.Strip)), "each value has its label")
	rec.Marks = nil
	assert.Zero(t, count(Draw(src, rec), styles[record.MarkCut].hue))
}

func count(img *image.RGBA, hue color.RGBA) (n int) {
	for i := 0; i < len(img.Pix); i += 4 {
		if img.Pix[i] == hue.R && img.Pix[i+1] == hue.G && img.Pix[i+2] == hue.B {
			n++
		}
	}
	return n
}

func TestDrawOfARefusedPictureSaysWhy(t *testing.T) {
	src, _ := madeUp()
	rec := record.New(record.Seam)
	rec.Image = "canopy/crew-a-018.jpg"
	bare := Draw(src, rec)
	rec.Refuse("no chessboard was found: lay the printed board beside the part, flat and wholly inside the picture, and take it " +
		"sharp and evenly lit, from straight above and from a hand's breadth and a half away, with no shadow on the board")
	got := Draw(src, rec)
	look(t, "refused.png", got)
	assert.Equal(t, bare.Bounds(), got.Bounds())
	assert.NotEqual(t, bare.Pix, got.Pix)
}

// Broken or absurd marks are left out; pictures of any shape are drawn.
func TestDrawSurvivesAnything(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, size := range []image.Point{{1, 1}, {3000, 2}, {2, 3000}, {640, 480}} {
		rec := record.New(record.Seam)
		rec.Set(record.SleeveLength, 1, 0.1)
		for _, points := range [][]record.Point{nil, {}, {pt(nan, 1), pt(2, 2)}, {pt(inf, 1)}, {pt(5, 5)}, {pt(5, 5), pt(5, 5)},
			{pt(-9e5, 0), pt(9e5, 10)}} {
			for kind := range styles {
				rec.Marks = append(rec.Marks, record.Mark{Kind: kind, Key: record.SleeveLength, Points: points})
			}
			rec.Marks = append(rec.Marks, record.Mark{Kind: "of a later version", Points: points})
		}
		assert.NotPanics(t, func() { Draw(image.NewGray(image.Rectangle{Max: size}), rec) }, size)
	}
}

// A point of the picture and its place in the drawing show the same pixel.
func TestMarksLieWhereThePictureShowsThem(t *testing.T) {
	src := image.NewRGBA(image.Rect(0, 0, 400, 300))
	for i := range src.Pix {
		src.Pix[i] = 255
	}
	for y := 140; y <= 142; y++ {
		for x := 200; x <= 202; x++ {
			src.SetRGBA(x, y, color.RGBA{0, 0, 0, 255})
		}
	}
	d := drawing{src: src, marks: []record.Mark{{Kind: record.MarkEdge, Points: []record.Point{pt(150, 120), pt(260, 170)}}}}
	rec := record.New(record.Seam)
	d.rec = rec
	d.layOut()
	rec.Marks = nil
	plain := Draw(src.SubImage(d.crop), record.New(record.Seam)) // the same crop without marks
	p := drawing{src: src.SubImage(d.crop), rec: rec}
	p.layOut()
	at := d.toPanel(pt(201, 141))
	assert.Equal(t, d.panel, p.panel)

	// The dark spot's centre of gravity in the drawing is the mapped centre of the dark pixels.
	var sum, sx, sy float64
	for y := d.panel.Min.Y; y < d.panel.Max.Y; y++ {
		for x := d.panel.Min.X; x < d.panel.Max.X; x++ {
			w := 255 - float64(plain.RGBAAt(x, y).R)
			sum, sx, sy = sum+w, sx+w*float64(x), sy+w*float64(y)
		}
	}
	assert.InDelta(t, at.X, sx/sum, 0.25)
	assert.InDelta(t, at.Y, sy/sum, 0.25)
}

// A drawing is light, to be printed, and its lettering is 6 points high or more where it is as wide as an A4 page has room
// for: 210 mm (ISO 216) less two margins of 15 mm. Body is what is shown there.
func TestDrawingsAreFitToBePrinted(t *testing.T) {
	for name, size := range map[string]image.Point{"an upright part": {300, 800}, "a part across": {3000, 700}, "a tiny one": {60, 40}} {
		rec := record.New(record.Seam)
		rec.Set(record.SleeveLength, 6.5, 0.1)
		rec.Marks = []record.Mark{{Kind: record.MarkLength, Key: record.SleeveLength,
			Points: []record.Point{pt(10, 10), pt(float64(size.X)-10, float64(size.Y)-10)}}}
		d := drawing{src: image.NewGray(image.Rectangle{Max: size}), rec: rec, marks: rec.Marks}
		d.layOut()
		const points = (210 - 2*15) / 25.4 * 72
		assert.GreaterOrEqual(t, textSize*d.unit*points/float64(d.img.Bounds().Dx()), 6.0, name)
		got := Draw(d.src, rec)
		assert.Equal(t, page, got.RGBAAt(1, 1), name)
		body := Body(got)
		assert.True(t, d.panel.In(body), "%s: %v holds %v", name, body, d.panel)
		assert.Less(t, body.Dy(), got.Bounds().Dy()-200, name)
	}
	plain := image.NewGray(image.Rect(0, 0, 30, 20))
	assert.Equal(t, plain.Bounds(), Body(plain), "no drawing of ours")
	src, rec := judgedSection(t)
	drawn := Draw(src, rec)
	assert.Less(t, Body(drawn).Dy(), drawn.Bounds().Dy()-200, "a section")
}

func TestLabelsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const top, bottom, height = header, header + leastHeight, labelHeight + 0.0
		n := rapid.IntRange(0, 26).Draw(t, "labels") // 13 a column have room
		all := make([]label, n)
		for i := range all {
			all[i].anchor = pt(0, rapid.Float64Range(-100, 900).Draw(t, "y"))
		}
		arrange(all, top, bottom, height)
		for i, a := range all {
			assert.GreaterOrEqual(t, a.y, top+height/2-1e-6)
			assert.LessOrEqual(t, a.y, bottom-height/2+1e-6)
			for _, b := range all[:i] {
				if a.left == b.left {
					assert.GreaterOrEqual(t, math.Abs(a.y-b.y), height-1e-6)
				}
			}
		}
	})
}

func TestDashesKeepTheirLengths(t *testing.T) {
	parts := dashes([]record.Point{pt(0, 0), pt(7, 0), pt(7, 13)}, []float64{4, 2})
	total := 0.0
	for _, part := range parts {
		for i := 1; i < len(part); i++ {
			total += math.Hypot(part[i].X-part[i-1].X, part[i].Y-part[i-1].Y)
		}
	}
	assert.InDelta(t, 14, total, 1e-9, "20 long: 4 on 2 off three times, then 2 on")
	assert.Len(t, parts, 4)
}

func BenchmarkDraw(b *testing.B) {
	src, rec := madeUp()
	for b.Loop() {
		_ = Encode(&bytes.Buffer{}, Draw(src, rec))
	}
}
