package section

import (
	"encoding/json"
	"hash/fnv"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	_ "golang.org/x/image/tiff"

	"crimprule/vision/record"
)

// small is a random scene reduced to a quarter of its pixels.
func small(seed int64) Scene {
	s := Random(seed)
	s.Width, s.Height, s.MMPerPX = s.Width/2, s.Height/2, 2*s.MMPerPX
	s.ShiftPX = [2]float64{s.ShiftPX[0] / 2, s.ShiftPX[1] / 2}
	s.Scale.ThickPX, s.Scale.TextPX = math.Ceil(s.Scale.ThickPX/2), s.Scale.TextPX/2
	return s
}

func TestSameSeedSamePicture(t *testing.T) {
	sum := func(s Scene) uint64 {
		img, truth := s.Draw()
		h := fnv.New64a()
		b := img.Bounds()
		for y := range b.Dy() {
			for x := range b.Dx() {
				r, g, bl, _ := img.At(x, y).RGBA()
				_, _ = h.Write([]byte{byte(r >> 8), byte(g >> 8), byte(bl >> 8)})
			}
		}
		text, err := json.Marshal(truth.Values)
		require.NoError(t, err)
		_, _ = h.Write(text)
		return h.Sum64()
	}
	first := sum(small(8))
	assert.Equal(t, first, sum(small(8)))
	assert.NotEqual(t, first, sum(small(7)))
}

// The sleeve's outline in a picture with all its textures but without darkened rims: brightness passes the middle
// between resin and metal where the polygon lies.
func TestOutlineLiesWhereTruthSays(t *testing.T) {
	s := bare()
	s.TurnDeg, s.Width, s.Height, s.Optics.BlurPX = 12, 860, 700, 1.2 // soft enough to be read between pixels
	img, truth := s.Draw()
	v := s.view(truth.Geometry)
	n := 0
	for _, sd := range []*side{truth.Geometry.left, truth.Geometry.right} {
		for i := 20; i < sd.face; i += 15 { // floor, corner, wall and lobe
			a, b := v.px(sd.outer[i-1]), v.px(sd.outer[i+1])
			d := b.sub(a).mul(1 / b.sub(a).norm())
			way, p := Point{-d.Y, d.X}, v.px(sd.outer[i])
			assert.InDelta(t, 0, crossing(img, p.add(way.mul(-4)), p.add(way.mul(4)), (0.85+0.2)/2)-4, 0.05, "at %v", p)
			n++
		}
	}
	assert.Greater(t, n, 40)
}

func TestScaleBarIsAsLongAsItSays(t *testing.T) {
	for _, k := range []Scale{{BarUM: 500, ThickPX: 7, TextPX: 22, Text: "500 µm"}, {BarUM: 250, ThickPX: 6, TextPX: 20, Text: "250 um", Boxed: true, Dark: true, Corner: 2, Ticks: true}} {
		s := Disc(1, 0.0037)
		s.Width, s.Height, s.Scale, s.Optics.BlurPX = 900, 700, k, 0
		img, truth := s.Draw()
		bar := truth.Aid.ScaleBar
		require.NotNil(t, bar)
		a, b := Point{bar.Ends[0][0], bar.Ends[0][1]}, Point{bar.Ends[1][0], bar.Ends[1][1]}
		assert.InDelta(t, k.BarUM/1000/s.MMPerPX, b.X-a.X, 0.01)
		level := 0.6
		if k.Boxed {
			level = 0.5
		}
		// A drawn edge that falls within a pixel mixes that pixel; half brightness is passed at most half a pixel off.
		left := crossing(img, a.add(Point{-5, 0}), a.add(Point{5, 0}), level) - 5
		right := crossing(img, b.add(Point{5, 0}), b.add(Point{-5, 0}), level) - 5
		assert.InDelta(t, 0, left, 0.5)
		assert.InDelta(t, 0, right, 0.5)
		// Exactly: the ink in the bar's row is the bar's length.
		at, ink, sum := grey(img), grey(img)(int((a.X+b.X)/2), int(a.Y)), 0.
		ground := at(int(a.X)-4, int(a.Y))
		for x := int(a.X) - 4; x <= int(b.X)+4; x++ {
			sum += (at(x, int(a.Y)) - ground) / (ink - ground)
		}
		assert.InDelta(t, b.X-a.X, sum, 0.05)
	}
}

func TestFormatsAreReadBack(t *testing.T) {
	dir, s := t.TempDir(), small(7)
	for name, k := range map[string]Format{"colour": {Kind: "jpg", Quality: 90, Bits: 8}, "grey": {Kind: "jpg", Quality: 90, Bits: 8, Grey: true},
		"png": {Kind: "png", Bits: 8}, "tif": {Kind: "tif", Bits: 8}, "deep": {Kind: "tif", Bits: 16, Grey: true}} {
		s.Format = k
		picture, truth := filepath.Join(dir, name+"."+k.Ending()), filepath.Join(dir, name+".json")
		require.NoError(t, s.Write(picture, truth))
		f, err := os.Open(picture)
		require.NoError(t, err)
		img, _, err := image.Decode(f)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		assert.Equal(t, image.Rect(0, 0, s.Width, s.Height), img.Bounds())
		_, deep := img.(*image.Gray16)
		assert.Equal(t, k.Bits == 16, deep)
		if name == "tif" || name == "png" { // stored without loss
			drawn, _ := s.Draw()
			same := true
			for y := range s.Height {
				for x := range s.Width {
					r, g, b, _ := drawn.At(x, y).RGBA()
					u, v, w, _ := img.At(x, y).RGBA()
					same = same && r == u && g == v && b == w
				}
			}
			assert.True(t, same, name)
		}
		_, flat := img.(*image.Gray)
		assert.Equal(t, k.Grey && k.Bits == 8, flat)
		text, err := os.ReadFile(truth)
		require.NoError(t, err)
		var told struct {
			Image, View string
			Truth       map[string]float64
			Declared    map[string]float64
			Scale       string `json:"scale_option"`
			Aid         struct {
				Strands [][2]float64
			}
		}
		require.NoError(t, json.Unmarshal(text, &told))
		assert.Equal(t, filepath.Base(picture), told.Image)
		assert.Equal(t, "section", told.View)
		assert.Len(t, told.Truth, len(record.Keys(record.Section)))
		assert.Len(t, told.Aid.Strands, int(told.Truth["strand_count"]))
		assert.Contains(t, told.Declared, "conductor_area_mm2")
		assert.Equal(t, s.ScaleOption(), told.Scale)
	}
}

func TestSpoiledPicturesAreSpoiled(t *testing.T) {
	good := small(24)
	good.Scale = Scale{}                     // a bar stays sharp and bright
	sharp := func(img image.Image) float64 { // the steepest step between neighbours
		at, best := grey(img), 0.
		for y := range img.Bounds().Dy() {
			for x := 1; x < img.Bounds().Dx(); x++ {
				best = max(best, math.Abs(at(x, y)-at(x-1, y)))
			}
		}
		return best
	}
	bright := func(img image.Image) float64 {
		at, best := grey(img), 0.
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				best = max(best, at(x, y))
			}
		}
		return best
	}
	plain, _ := good.Draw()
	for _, why := range Faults {
		s := good.Spoil(why)
		require.Equal(t, why, s.ExpectRetake)
		img, truth := s.Draw()
		switch why {
		case "out_of_focus":
			assert.Less(t, sharp(img), sharp(plain)/2)
		case "section_incomplete":
			_, hi := Polygon(pixels(truth.Aid.Sleeve)).box()
			assert.Greater(t, hi.X, float64(s.Width)+20)
		case "no_section":
			assert.Empty(t, truth.Values)
			assert.Less(t, bright(img), 0.8*bright(plain))
		}
	}
	assert.Empty(t, good.Spoil("anything else").ExpectRetake)
}

func TestDemo(t *testing.T) {
	demo := Demo()
	require.Len(t, demo, 5)
	var values []map[record.Key]float64
	for _, d := range demo {
		s := d.Scene
		require.True(t, s.Sleeve.sound(), d.Name)
		v := s.Truth().Values
		values = append(values, v)
		// 56 strands of 0.30 mm: 3.9584 mm² by n·pi·d²/4.
		assert.InDelta(t, 3.9584, s.Declared.ConductorAreaMM2, 1e-4)
		assert.InDelta(t, 56, v[record.StrandCount]+float64(s.Fill.Lost), 0)
		assert.Less(t, v[record.Compaction], 0.3)
	}
	good := values[0]
	// A usual aim is 15 to 20 % (common practice).
	assert.InDelta(t, 0.17, good[record.Compaction], 0.005)
	assert.Zero(t, good[record.WingOpening])
	assert.Greater(t, values[2][record.WingOpening], 0.1)
	assert.Greater(t, values[3][record.BurrHeightRight], 0.2)
}
