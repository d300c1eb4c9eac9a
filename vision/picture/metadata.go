package picture

import (
	"bytes"
	"io"
	"math"
	"strings"
	"time"
	"unicode"

	"github.com/bep/imagemeta"
)

// exifPrefix stands before the EXIF data in a JPEG; some programs write it in PNG and WebP as well, where it does not
// belong.
const exifPrefix = "Exif\x00\x00"

func withoutPrefix(exif []byte) []byte {
	exif, _ = bytes.CutPrefix(exif, []byte(exifPrefix))
	return exif
}

// orientationOf reads EXIF's orientation; 1 (upright) where there is none or none that is valid. It reads the entry
// itself, so that no broken entry elsewhere can leave a picture lying on its side, or mirrored.
func orientationOf(exif []byte) int {
	d, _ := firstDirectory(exif)
	if o := d.number(tagOrientation, 1); o >= 1 && o <= 8 {
		return int(o)
	}
	return 1
}

// metadata holds the EXIF values that are kept, by tag: strings or numbers.
type metadata map[string]any

// wanted are the tags that are kept, under the names that the library gives them.
var wanted = map[string]bool{
	"Make": true, "Model": true,
	"DateTimeOriginal": true, "OffsetTimeOriginal": true, "CreateDate": true, "OffsetTimeDigitized": true,
	"FocalLengthIn35mmFormat": true, "ExifImageWidth": true, "ExifImageHeight": true,
}

// readMetadata reads what it can. Metadata are the least trusted part of a picture and the least needed one: whatever
// is wrong with them only leaves a value out. The library gets the metadata alone, as a TIFF structure, with bounds on
// their number and length.
func readMetadata(exif []byte) (m metadata) {
	m = metadata{}
	defer func() {
		if recover() != nil {
			m = metadata{}
		}
	}()
	if len(exif) == 0 {
		return m
	}
	_, _ = imagemeta.Decode(imagemeta.Options{
		R: &rationed{bytes.NewReader(exif), 32 << 20}, ImageFormat: imagemeta.TIFF, Sources: imagemeta.EXIF,
		LimitNumTags: 1000, LimitTagSize: 1000,
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool {
			return wanted[tag.Tag] && (tag.Namespace == "IFD0" || tag.Namespace == "IFD0/ExifIFDP")
		},
		HandleTag: func(tag imagemeta.TagInfo) error {
			if _, known := m[tag.Tag]; !known {
				m[tag.Tag] = tag.Value
			}
			return nil
		},
	})
	return m
}

// rationed is a reader that ends after so many bytes, however often they are the same ones: directories that lead to
// each other a thousandfold could keep the library busy for minutes.
type rationed struct {
	*bytes.Reader
	left int
}

func (r *rationed) Read(p []byte) (int, error) {
	if r.left <= 0 {
		return 0, io.ErrUnexpectedEOF
	}
	n, err := r.Reader.Read(p)
	r.left -= n
	return n, err
}

func (m metadata) text(tag string) string {
	s, _ := m[tag].(string)
	return strings.TrimSpace(s)
}

func (m metadata) number(tag string) float64 {
	switch v := m[tag].(type) {
	case uint16:
		return float64(v)
	case uint32:
		return float64(v)
	}
	return 0
}

// taken is when the exposure was made, or when it was digitized where that is all that is known. The date of the last
// change is no substitute.
func (m metadata) taken() string {
	for _, tags := range [][2]string{
		{"DateTimeOriginal", "OffsetTimeOriginal"},
		{"CreateDate", "OffsetTimeDigitized"},
	} {
		local, err := time.Parse("2006:01:02 15:04:05", m.text(tags[0]))
		if err != nil || local.Year() == 0 {
			continue
		}
		const plain = "2006-01-02T15:04:05"
		if zoned, err := time.Parse(plain+"Z07:00", local.Format(plain)+m.text(tags[1])); err == nil {
			return zoned.Format(time.RFC3339)
		}
		return local.Format(plain)
	}
	return ""
}

// camera is make and model on one line; models that begin with the make are not given it twice.
func (m metadata) camera() string {
	maker, model := plainWords(m.text("Make")), plainWords(m.text("Model"))
	if strings.HasPrefix(strings.ToLower(model), strings.ToLower(maker)) {
		return model
	}
	return strings.TrimSpace(maker + " " + model)
}

// plainWords keeps what can be printed, on one line, and no more than 60 characters of it.
func plainWords(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == unicode.ReplacementChar || !unicode.IsPrint(r):
			return -1
		}
		return r
	}, s)
	runes := []rune(strings.Join(strings.Fields(s), " "))
	return strings.TrimSpace(string(runes[:min(len(runes), 60)]))
}

// focalPX is the focal length in pixels of a picture of width x height pixels: the 35 mm equivalent f35 belongs to a
// frame of 36 mm x 24 mm, and equal means the same angle of view over the diagonal (the convention of CIPA DCG-001,
// from memory), so f = f35 / 43.27 mm * diagonal. Digital zoom is within f35 already (EXIF 2.3, tag 41989). It is 0
// where f35 is missing or no lens has it, and where the picture's shape is not the one that was exposed: a cropped
// picture has another diagonal, and what was cut off is not known.
func (m metadata) focalPX(width, height int) float64 {
	f35 := m.number("FocalLengthIn35mmFormat")
	if f35 < 5 || f35 > 2000 {
		return 0
	}
	exposedWidth, exposedHeight := m.number("ExifImageWidth"), m.number("ExifImageHeight")
	if exposedWidth > 0 && exposedHeight > 0 {
		shape := math.Abs(math.Log(float64(width) / float64(height)))
		if math.Abs(shape-math.Abs(math.Log(exposedWidth/exposedHeight))) > 0.01 {
			return 0
		}
	}
	return f35 / math.Hypot(36, 24) * math.Hypot(float64(width), float64(height))
}
