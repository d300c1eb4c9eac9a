// Package tag finds QR codes in a photo and reads them: the tag that says which part the photo shows.
//
// Pixels are those of the upright picture, (0, 0) the centre of the top left one.
package tag

import (
	"fmt"
	"image"
	"math"
	"unicode"
	"unicode/utf8"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
	"crimprule/vision/record"
)

// Code is a QR code in a picture. Outline goes round its modules, without the quiet zone.
type Code struct {
	Text    string
	Read    bool // false: the code was seen but could not be decoded, and Text is empty
	Outline []record.Point
}

// Where the scale is known the picture is halved to 6 to 12 pixels a millimetre: five for a module of a printed card's
// code, two more than a code needs to be read. Where it is unknown, or for a scene that is larger than usual, its long side
// is limited. Modules of more than a dozen pixels are larger than the binarizer looks, so that half of that size is
// searched as well.
const (
	searchPPM       = 12.0
	longSidePX      = 2500.0
	longSideKnownPX = 4500.0
)

// modulesPX are the sizes of a module at which a code that was not read is looked at again: large ones show the small
// alignment pattern of a tilted code, small ones average noise away.
var modulesPX = []float64{10, 5}

// Find lists the QR codes of an 8-bit grey picture, turned or tilted as they may lie. PXPerMM is the picture's
// resolution at the codes, 0 where it is unknown.
func Find(grey gocv.Mat, pxPerMM float64) ([]Code, error) {
	if grey.Empty() || grey.Type() != gocv.MatTypeCV8UC1 {
		return nil, fmt.Errorf("tag: want an 8-bit grey picture, have type %v of %d x %d px", grey.Type(), grey.Cols(), grey.Rows())
	}
	shrink := longSidePX / float64(max(grey.Cols(), grey.Rows()))
	if pxPerMM > 0 {
		shrink = min(searchPPM/pxPerMM, longSideKnownPX/float64(max(grey.Cols(), grey.Rows())))
	}
	found, err := search(grey, shrink)
	if err != nil {
		return nil, err
	}
	var codes []Code
	for _, f := range found {
		if !f.read && !covered(codes, f) {
			f = again(grey, f)
		}
		codes = keep(codes, f)
	}
	return codes, nil
}

// search halves the picture until it is reduced by shrink or more, and looks at that and at half of it. Halving is several
// times as fast as reducing by another number.
func search(grey gocv.Mat, shrink float64) ([]sighting, error) {
	level := grey.Region(image.Rect(0, 0, grey.Cols(), grey.Rows()))
	defer func() { _ = level.Close() }()
	var found []sighting
	for scale, looked := 1.0, 0; ; scale /= 2 {
		if scale <= shrink || looked > 0 {
			more, err := look(level, image.Rect(0, 0, level.Cols(), level.Rows()), 1)
			if err != nil {
				return nil, err
			}
			for _, f := range more {
				found = append(found, f.enlarged(1/scale))
			}
			looked++
		}
		if looked == 2 || min(level.Cols(), level.Rows()) < 2 {
			return found, nil
		}
		half := gocv.NewMat()
		err := halve(level, &half)
		_ = level.Close()
		level = half
		if err != nil {
			return nil, err
		}
	}
}

// halve leaves out an odd last row or column, so that pixels stay square.
func halve(src gocv.Mat, dst *gocv.Mat) error {
	size := image.Pt(src.Cols()/2, src.Rows()/2)
	even := src.Region(image.Rectangle{Max: size.Mul(2)})
	defer even.Close()
	return cvx.Resize(even, dst, size, gocv.InterpolationArea)
}

// enlarged gives a sighting's place in a picture that is larger by a factor; centres of pixels are whole numbers.
func (s sighting) enlarged(by float64) sighting {
	s.module *= by
	for k, p := range s.outline {
		s.outline[k] = record.Point{X: (p.X+0.5)*by - 0.5, Y: (p.Y+0.5)*by - 0.5}
	}
	return s
}

// again looks at a code that could not be read by itself, at sizes that suit it.
func again(grey gocv.Mat, f sighting) sighting {
	margin := int(4 * f.module)
	near := bounds(f.outline).Inset(-margin).Intersect(image.Rect(0, 0, grey.Cols(), grey.Rows()))
	if near.Empty() {
		return f
	}
	for _, px := range modulesPX {
		closer, err := look(grey, near, math.Min(1, px/f.module))
		if err != nil {
			return f
		}
		for _, c := range closer {
			if c.read {
				return c
			}
		}
	}
	return f
}

// keep adds a code unless it lies over one that is there already, several trios of patterns being found in one code; one
// that was read takes the place of one that was not.
func keep(codes []Code, f sighting) []Code {
	for i, k := range codes {
		if bounds(k.Outline).Overlaps(bounds(f.outline)) {
			if f.read && !k.Read {
				codes[i] = f.code()
			}
			return codes
		}
	}
	return append(codes, f.code())
}

// covered tells whether a code that was read lies there already.
func covered(codes []Code, f sighting) bool {
	for _, k := range codes {
		if k.Read && bounds(k.Outline).Overlaps(bounds(f.outline)) {
			return true
		}
	}
	return false
}

// bounds is the upright rectangle round some points.
func bounds(points []record.Point) image.Rectangle {
	r := image.Rectangle{Min: image.Pt(math.MaxInt32, math.MaxInt32), Max: image.Pt(math.MinInt32, math.MinInt32)}
	for _, p := range points {
		x, y := int(math.Floor(p.X)), int(math.Floor(p.Y))
		r.Min = image.Pt(min(r.Min.X, x), min(r.Min.Y, y))
		r.Max = image.Pt(max(r.Max.X, x+1), max(r.Max.Y, y+1))
	}
	return r
}

// MaxText is the longest text, in characters, that is taken as a tag.
const MaxText = 200

// Unfit tells why a code's text cannot be taken as a tag, or nothing. A picture is untrusted: its text goes into records,
// lists and terminals, where control characters do harm and a page of text none any good.
func Unfit(text string) string {
	if n := utf8.RuneCountInString(text); n > MaxText {
		return fmt.Sprintf("its code holds %d characters, more than %d", n, MaxText)
	}
	if text == "" {
		return "its code is empty"
	}
	for _, r := range text {
		if !unicode.IsPrint(r) || r == utf8.RuneError {
			return fmt.Sprintf("its code holds a character that cannot be printed (%U)", r)
		}
	}
	return ""
}

// look searches a part of the picture, reduced by shrink.
func look(grey gocv.Mat, part image.Rectangle, shrink float64) (found []sighting, err error) {
	region := grey.Region(part)
	defer region.Close()
	size := image.Pt(max(1, int(math.Round(float64(part.Dx())*shrink))), max(1, int(math.Round(float64(part.Dy())*shrink))))
	small := gocv.NewMat()
	defer small.Close()
	if err := cvx.Resize(region, &small, size, gocv.InterpolationArea); err != nil {
		return nil, err
	}
	pix, err := small.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	// The decoder is foreign code fed with pictures from anywhere: what it trips over is an error and no crash.
	defer func() {
		if fault := recover(); fault != nil {
			found, err = nil, fmt.Errorf("tag: the decoder failed: %v", fault)
		}
	}()
	found = sightings(pix, size.X, size.Y)
	fx, fy := float64(part.Dx())/float64(size.X), float64(part.Dy())/float64(size.Y)
	for i := range found {
		found[i].module *= math.Sqrt(fx * fy)
		for k, p := range found[i].outline {
			// The decoder counts from a pixel's corner.
			found[i].outline[k] = record.Point{X: p.X*fx + float64(part.Min.X) - 0.5, Y: p.Y*fy + float64(part.Min.Y) - 0.5}
		}
	}
	return found, nil
}

// sighting is a place that looks like a code.
type sighting struct {
	text    string
	read    bool
	module  float64 // px
	outline []record.Point
}

func (s sighting) code() Code { return Code{Text: s.text, Read: s.read, Outline: s.outline} }

// decode reads the modules. Decoding corrects errors (ISO/IEC 18004, Reed-Solomon) and fails where there are too many.
func decode(bits *gozxing.BitMatrix) (string, bool) {
	result, err := decoder.NewDecoder().DecodeWithoutHint(bits)
	if err != nil {
		return "", false
	}
	return result.GetText(), true
}
