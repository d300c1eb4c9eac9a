package picture

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"
)

// sniff tells a picture's format by its first bytes; "" where it is none that is read.
func sniff(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		return "jpeg"
	case bytes.HasPrefix(data, []byte(pngSignature)):
		return "png"
	case bytes.HasPrefix(data, []byte("II*\x00")), bytes.HasPrefix(data, []byte("MM\x00*")),
		bytes.HasPrefix(data, []byte("II+\x00")), bytes.HasPrefix(data, []byte("MM\x00+")):
		return "tiff"
	case len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP":
		return "webp"
	}
	return ""
}

const exportJPEG = "export it as JPEG and measure that"

// others are files that people hand over instead of a picture: how they begin, what they are, what to do.
var others = []struct{ start, what, next string }{
	{"%PDF-", "is not a picture but a PDF document", "save the picture in it as PNG or JPEG"},
	{"PK\x03\x04", "is not a picture but a ZIP archive or an office document", "unpack it and name the pictures"},
	{"\x1f\x8b", "is not a picture but a gzip archive", "unpack it and name the pictures"},
	{"7z\xbc\xaf\x27\x1c", "is not a picture but a 7z archive", "unpack it and name the pictures"},
	{"GIF8", "is a GIF, which has too few colours to be measured", "export the original as PNG or JPEG"},
	{"8BPS", "is a layered picture of a drawing program, which is not read", "export it as PNG and measure that"},
	{"\x00\x00\x00\x0cjP  \r\n\x87\n", "is a JPEG 2000, which is not read", exportJPEG},
	{"\x00\x00\x00\x0cJXL \r\n\x87\n", "is a JPEG XL, which is not read", exportJPEG},
	{"\xff\x0a", "is a JPEG XL, which is not read", exportJPEG},
	{"\x1a\x45\xdf\xa3", "is not a picture but a video", "take a still picture"},
	{"RIFF", "is not a picture but a sound or video file", "take a still picture"},
	{"\x7fELF", "is not a picture but a program", "name a picture"},
}

// foreign says what a file that is no readable picture seems to be.
func foreign(data []byte) error {
	if len(data) < 12 && bytes.HasPrefix(data, []byte("\xff\xd8")) {
		return cutShort("jpeg", "hardly more than its first bytes")
	}
	if len(data) < len(pngSignature) && strings.HasPrefix(pngSignature, string(data)) {
		return cutShort("png", "hardly more than its first bytes")
	}
	if len(data) >= 12 && string(data[4:8]) == "ftyp" {
		return foreignBoxes(data)
	}
	if len(data) >= 14 && string(data[:2]) == "BM" && string(data[6:10]) == "\x00\x00\x00\x00" {
		return &fault{"is a BMP, which is not read", "export it as PNG and measure that"}
	}
	for _, o := range others {
		if bytes.HasPrefix(data, []byte(o.start)) {
			return &fault{o.what, o.next}
		}
	}
	if len(bytes.Trim(data, "\x00")) == 0 {
		return &fault{"holds nothing but zero bytes", copyAgain}
	}
	if kind := text(data); kind != "" {
		return &fault{"is not a picture but " + kind, "name a JPEG, PNG, TIFF or WebP"}
	}
	return &fault{"is not a picture that can be told", "name a JPEG, PNG, TIFF or WebP"}
}

// foreignBoxes tells the formats apart that begin with a box 'ftyp', by that box's brands (ISO/IEC 14496-12, and
// 23008-12 for the pictures among them; the brands from memory).
func foreignBoxes(data []byte) error {
	size := int(data[0])<<24 | int(data[1])<<16 | int(data[2])<<8 | int(data[3])
	box := data[8:max(12, min(size, len(data), 256))]
	has := func(brands ...string) bool {
		for at := 0; at+4 <= len(box); at += 4 {
			for _, b := range brands {
				if at != 4 && string(box[at:at+4]) == b { // at 4 stands the version
					return true
				}
			}
		}
		return false
	}
	switch {
	case has("avif", "avis"):
		return &fault{"is an AVIF picture, which is not read", exportJPEG}
	case has("heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"):
		return &fault{"is a HEIC picture, which is not read",
			"export it as JPEG and measure that, or set the phone's camera to take JPEG"}
	}
	return &fault{"is not a picture but a video", "take a still picture"}
}

// text tells whether a file begins like text, and what kind of text that seems to be.
func text(data []byte) string {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return "text"
	}
	start := data[:min(len(data), 512)]
	for cut := 0; cut < utf8.UTFMax && len(data) > len(start) && !utf8.Valid(start); cut++ {
		start = start[:len(start)-1] // the last character may be cut in two
	}
	if !utf8.Valid(start) {
		return ""
	}
	for _, r := range string(start) {
		if !unicode.IsGraphic(r) && !unicode.IsSpace(r) && r != '\ufeff' {
			return ""
		}
	}
	lower := strings.ToLower(strings.TrimLeft(string(start), "\ufeff \t\r\n"))
	switch {
	case strings.HasPrefix(lower, "<!doctype html"), strings.HasPrefix(lower, "<html"):
		return "a web page"
	case strings.Contains(lower, "<svg"):
		return "an SVG drawing"
	}
	return "text"
}
