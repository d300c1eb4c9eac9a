// Package likeness tells whether two pictures are one: whether one is the other saved anew by a messenger or an editor, at
// another quality or size, somewhat darker or brighter, turned, mirrored or cropped a little. Photos of two crimps that
// were taken one after the other from the same stand are not one, however alike they look: the part itself differs. It is
// pure Go.
//
// # Method
//
// Of each picture a Look is kept: the SHA-256 of its pixels, and a grey miniature of longSide pixels, averaged over areas. Two
// looks are compared by the miniatures (Same): of the eight ways to turn and mirror one, that is taken which goes best with
// the other; then it is laid over the other by the affine map, gain and offset of least squares (the Gauss-Newton method
// of Lucas and Kanade, 1981, on a pyramid of three steps; from memory); then blocks are compared one by one, each with a gain and
// an offset of its own, since editors change tones. What does not go away so is held against what noise and coding leave,
// and against the block's own contrast, which pixels that lie a little beside each other turn into difference. Every block
// must agree: a copy is a copy everywhere, and of two crimps on one card only the few blocks differ that show the part.
package likeness

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"image"
	"image/draw"
	"image/jpeg"
)

// Method counts the ways in which looks were made: those of two methods are not compared.
const Method = 1

// longSide is the longer side of a miniature, px: a pixel is 0.3 mm in a usual photo. coding is its JPEG quality.
const (
	longSide = 320
	coding   = 92
)

// Look is what is kept of a picture to know it again.
type Look struct {
	Pixels string // SHA-256 of size and colours, as the picture is shown; hex
	Tiny   []byte // coarse x coarse grey levels, whatever the picture's shape
	Small  []byte // the miniature, a grey JPEG
}

// Of gives the look of a picture.
func Of(img image.Image) (Look, error) {
	bounds := img.Bounds()
	full, ok := img.(*image.RGBA)
	if !ok || full.Stride != 4*bounds.Dx() {
		full = image.NewRGBA(image.Rect(0, 0, bounds.Dx(), bounds.Dy()))
		draw.Draw(full, full.Bounds(), img, bounds.Min, draw.Src)
	}
	hash := sha256.New()
	_ = binary.Write(hash, binary.BigEndian, [2]int64{int64(bounds.Dx()), int64(bounds.Dy())})
	hash.Write(full.Pix)
	small := luminance(full)
	tiny := small.shrunk(coarse, coarse).bytes()
	most := max(small.W, small.H)
	small = small.shrunk(max(1, small.W*longSide/most), max(1, small.H*longSide/most))
	out := image.NewGray(image.Rect(0, 0, small.W, small.H))
	copy(out.Pix, small.bytes())
	var b bytes.Buffer
	err := jpeg.Encode(&b, out, &jpeg.Options{Quality: coding})
	return Look{hex.EncodeToString(hash.Sum(nil)), tiny, b.Bytes()}, err
}

func (g grey) bytes() []byte {
	all := make([]byte, len(g.Pix))
	for i, v := range g.Pix {
		all[i] = uint8(min(max(v+0.5, 0), 255))
	}
	return all
}

// luminance is the picture in grey (ITU-R BT.601's weights, as JPEG has them).
func luminance(img *image.RGBA) grey {
	g := newGrey(img.Rect.Dx(), img.Rect.Dy())
	for i := range g.Pix {
		p := img.Pix[4*i : 4*i+3]
		g.Pix[i] = 0.299*float32(p[0]) + 0.587*float32(p[1]) + 0.114*float32(p[2])
	}
	return g
}
