package likeness

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/drawn"
	"crimprule/vision/record"
)

// saved is a picture written as JPEG and read again.
func saved(t *testing.T, img image.Image, quality int) image.Image {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}))
	out, err := jpeg.Decode(&b)
	require.NoError(t, err)
	return out
}

func shot(change func(*drawn.Scene)) image.Image {
	s := drawn.Canopy(41).Wide(800)
	change(&s)
	img, _ := s.Render()
	return img
}

// album holds pictures by name, each with the same values, so that nothing but what they look like tells them apart.
type album struct {
	Album
	small map[string][]byte
}

func (a *album) find(t *testing.T, name string, img image.Image) (string, bool) {
	t.Helper()
	look, err := Of(img)
	require.NoError(t, err)
	if a.small == nil {
		a.small = map[string][]byte{}
		a.Small = func(name string) ([]byte, error) { return a.small[name], nil }
	}
	a.small[name] = look.Small
	first, equal, found, err := a.Find(name, look, record.New(record.Seam))
	require.NoError(t, err)
	require.Equal(t, found, first != "")
	return first, equal
}

// Two crimps on one stand, of which nothing but the part differs, are two pictures, and so are those of one part that was
// laid down anew; whatever a messenger or an editor does to a picture leaves it one.
func TestCopiesAreToldFromPicturesOfTheSameStand(t *testing.T) {
	var a album
	first := saved(t, shot(func(*drawn.Scene) {}), 90)
	other := func(s *drawn.Scene) {
		s.Sensor.Shot = 1
		s.Part.Sleeve.SeamOffsetMM += 0.12
		s.Part.Brush.MeanMM += 0.25
		s.Part.Wire.GapMM += 0.15
		s.Part.Body.BendDeg++
	}
	for name, img := range map[string]image.Image{
		"another part in the same place": shot(other),
		"the same part, laid down anew":  shot(func(s *drawn.Scene) { s.Part.CentreMM[0] += 0.4; s.Part.AlphaDeg++ }),
	} {
		one := a
		found, _ := one.find(t, "first", first)
		require.Empty(t, found)
		found, _ = one.find(t, name, saved(t, img, 90))
		assert.Empty(t, found, name)
	}
	found, _ := a.find(t, "first", first)
	require.Empty(t, found)
	small := func(width int) image.Image { return imaging.Resize(first, width, 0, imaging.CatmullRom) }
	for name, img := range map[string]image.Image{
		"quality 50": saved(t, first, 50), "quality 95": saved(t, first, 95), "darker": saved(t, imaging.AdjustFunc(first, dimmed), 85),
		"97 %": saved(t, small(776), 85), "half": saved(t, small(400), 80), "upside down": saved(t, imaging.Rotate180(first), 85),
		"on its side": saved(t, imaging.Rotate90(first), 85), "mirrored": saved(t, imaging.FlipH(first), 85),
	} {
		found, equal := a.find(t, name, img)
		assert.Equal(t, "first", found, name)
		assert.False(t, equal, name)
	}
	found, equal := a.find(t, "other metadata", first)
	assert.Equal(t, "first", found)
	assert.True(t, equal, "every pixel is")
}

func dimmed(c color.NRGBA) color.NRGBA {
	return color.NRGBA{uint8(0.9 * float64(c.R)), uint8(0.9 * float64(c.G)), uint8(0.9 * float64(c.B)), c.A}
}

// Values that a copy cannot have, and another view, tell pictures apart before anything is compared by sight.
func TestValuesTellPicturesApart(t *testing.T) {
	look, err := Of(imaging.New(50, 40, color.Gray{128}))
	require.NoError(t, err)
	with := func(view record.View, length, gap float64) page {
		rec := record.New(view)
		rec.Set(record.SleeveLength, length, 0.1)
		rec.Set(record.InsulationGapMean, gap, 0.1)
		return newPage("", look, rec)
	}
	a := with(record.Seam, 6.6, 0.5)
	for _, c := range []struct {
		b    page
		near bool
	}{{with(record.Seam, 6.65, 0.55), true}, {with(record.Seam, 6.65, 0.75), false}, {with(record.Side, 6.6, 0.5), false}, {with(record.Section, 0, 0), false}} {
		_, near := a.near(&c.b)
		assert.Equal(t, c.near, near)
	}
}
