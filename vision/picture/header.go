package picture

import (
	"fmt"
	"path/filepath"
	"strings"
)

// header is what a file says of itself, read without decoding it.
type header struct {
	format        string // jpeg, png, tiff, webp
	width, height int    // pixels as stored, before the orientation; 0 x 0 until they are known
	sized         bool   // width and height have been read
	depth         int    // bits a channel: 8 or 16
	alpha         bool   // the file may hold transparency
	premultiplied bool   // OpenCV gives its colours multiplied by alpha

	exif        []byte // the metadata: a TIFF structure of its own, or the whole file where that is a TIFF
	orientation int    // EXIF's, 1..8: how the stored picture must be turned to be upright
}

// The formats by name, as messages call them.
var titles = map[string]string{"jpeg": "JPEG", "png": "PNG", "tiff": "TIFF", "webp": "WebP"}

// endings gives the format that a file's ending promises; other endings promise nothing.
var endings = map[string]string{
	".jpg": "jpeg", ".jpeg": "jpeg", ".jpe": "jpeg", ".jfif": "jpeg",
	".png": "png", ".apng": "png", ".tif": "tiff", ".tiff": "tiff", ".webp": "webp",
	".heic": "heic", ".heif": "heic", ".avif": "avif", ".gif": "gif", ".bmp": "bmp", ".pdf": "pdf", ".svg": "svg",
	".jp2": "jpeg 2000", ".jxl": "jpeg xl", ".dng": "raw", ".zip": "zip", ".txt": "text", ".mp4": "video",
}

// usual is the ending to rename a mislabelled file to.
var usual = map[string]string{"jpeg": ".jpg", "png": ".png", "tiff": ".tif", "webp": ".webp"}

// examine tells what a file is and refuses, before anything is decoded, whatever cannot be measured: no picture, a
// format that is not read, a name that belies the content, a giant, a file that is cut short. It reads only the bytes
// it is given, and its memory does not grow with what they claim.
func examine(name string, data []byte) (header, error) {
	switch {
	case len(data) == 0:
		return header{}, &fault{"is empty (0 bytes)", copyAgain}
	case len(data) > MaxBytes:
		return header{}, tooManyBytes(int64(len(data)))
	}
	format := sniff(data)
	if format == "" {
		return header{}, foreign(data)
	}
	ending := strings.ToLower(filepath.Ext(name))
	if promised, known := endings[ending]; known && promised != format {
		return header{}, &fault{fmt.Sprintf("is named %s but holds a %s", ending, titles[format]),
			fmt.Sprintf("rename it to end in %s if it is the picture you mean", usual[format])}
	}
	h, err := parsers[format](data)
	if h.sized {
		// The size comes first: it holds even where the rest of the file is missing.
		if err := checkSize(h); err != nil {
			return header{}, err
		}
	}
	if err != nil {
		return header{}, err
	}
	if h.orientation < 1 || h.orientation > 8 {
		h.orientation = orientationOf(h.exif)
	}
	return h, nil
}

// parsers read a file's header and walk its structure to its end. Each gives what it has read even with an error.
var parsers = map[string]func([]byte) (header, error){
	"jpeg": readJPEG, "png": readPNG, "tiff": readTIFF, "webp": readWebP,
}

func checkSize(h header) error {
	title := titles[h.format]
	switch {
	case h.width == 0 || h.height == 0:
		return &fault{fmt.Sprintf("is a %s of %d x %d pixels and so holds no picture", title, h.width, h.height),
			"export it again"}
	case h.width > maxSide || h.height > maxSide:
		return &fault{fmt.Sprintf("is a %s of %d x %d pixels by its header, but a side may have at most %d", title,
			h.width, h.height, maxSide), "crop the picture to the crimp and its scale reference"}
	case h.width > maxPixels/h.height:
		megapixels := float64(h.width) * float64(h.height) / 1e6
		return &fault{fmt.Sprintf("is a %s of %d x %d pixels by its header, %.0f megapixels, and at most %d are decoded",
			title, h.width, h.height, megapixels, maxPixels/1_000_000),
			"crop the picture to the crimp and its scale reference"}
	}
	return nil
}

// cutShort is the fault of a file that ends before its picture does.
func cutShort(format, where string) error {
	return &fault{fmt.Sprintf("is a %s that is cut short (%s)", titles[format], where), copyAgain}
}

// damaged is the fault of a file whose parts contradict each other.
func damaged(format, why string) error {
	return &fault{fmt.Sprintf("is a %s that is damaged (%s)", titles[format], why), copyAgain}
}

// unsupported is the fault of a file that is whole, but of a kind that is not read.
func unsupported(format, kind string) error {
	return &fault{fmt.Sprintf("is a %s %s, which is not read", titles[format], kind),
		"export it as an 8 or 16 bit PNG or TIFF, or as a JPEG"}
}
