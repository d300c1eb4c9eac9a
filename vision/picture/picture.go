// Package picture turns a file's bytes into an upright picture: it tells what the file is, refuses what it must not
// decode, applies the orientation once, and keeps what the metadata say.
//
// A refusal is one line that quotes the file's name, says what is wrong and ends with what to do next.
package picture

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"gocv.io/x/gocv"
)

// Limits on what is read and decoded. A picture within them takes up to 0.6 GB as 8-bit BGR; a phone's photo takes
// 36 MB.
const (
	MaxBytes  = 2 << 30     // MaxBytes is that of the file
	maxPixels = 200_000_000 // width times height, by the file's header
	maxSide   = 65_535      // pixels; the largest that a JPEG can have
)

// Picture is a decoded, upright picture. Close it when done.
type Picture struct {
	Name   string // as the user gave it
	SHA256 string // of the file's bytes, hex
	Format string // jpeg, png, tiff, webp
	// Mat is 8-bit BGR whatever the file held; gocv memory, owned by the picture. Grey is repeated in all three
	// channels, alpha is laid over white, and 16-bit values v become round(v/257), so that the file's full range
	// 0..65535 becomes 0..255. The values are not stretched: what uses only a part of its 16 bits comes out dark.
	Mat gocv.Mat
	// Depth is the bits a channel of the file: 8 or 16. Deep holds the original values where that is 16, upright, with
	// one channel (grey) or three (BGR, alpha laid over white); else it is empty.
	Depth int
	Deep  gocv.Mat

	// Taken is the date and time of the exposure: RFC 3339 where the zone is known ("2026-05-04T10:11:12+02:00"), the
	// same without a zone where it is not; "" where unknown. Camera is make and model; "" where unknown.
	Taken  string
	Camera string
	// FocalPX is the focal length in pixels of this picture, from the metadata's 35 mm equivalent; 0 where unknown.
	FocalPX float64
}

// Close frees the pixels.
func (p *Picture) Close() {
	_ = p.Mat.Close()
	_ = p.Deep.Close()
}

// fault is why a file is refused: what is wrong with it, worded to follow its name, and what to do next.
type fault struct{ what, next string }

// Error gives the reason without the file's name; refused adds the name.
func (f *fault) Error() string { return f.what + ": " + f.next }

// refused names the file in front of what is wrong with it.
func refused(name string, err error) error { return fmt.Errorf("%q %w", name, err) }

const copyAgain = "copy it again from the camera or phone, or take the picture again"

// Open reads and decodes a picture's file. The caller closes the picture.
func Open(path string) (Picture, error) {
	data, err := read(path)
	if err != nil {
		return Picture{}, refused(path, err)
	}
	return Decode(path, data)
}

// read gives a regular file's bytes.
func read(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, unreadable(err)
	}
	switch {
	case info.IsDir():
		return nil, &fault{"is a folder, not a picture", "name the pictures that lie in it"}
	case !info.Mode().IsRegular():
		return nil, &fault{"is not a regular file", "save the picture to a file and name that"}
	case info.Size() > MaxBytes:
		return nil, tooManyBytes(info.Size())
	}
	file, err := os.Open(path) //nolint:gosec // reading the file that the user names is what this is for
	if err != nil {
		return nil, unreadable(err)
	}
	defer func() { _ = file.Close() }()
	// One byte more than the size lets ReadFull see the end; a file that changes meanwhile is not worth more care.
	data := make([]byte, info.Size()+1)
	n, err := io.ReadFull(file, data)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, unreadable(err)
	}
	return data[:n], nil
}

func unreadable(err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &fault{"does not exist", "check the name and the folder"}
	case errors.Is(err, fs.ErrPermission):
		return &fault{"may not be read", "get the permission to read it, or copy it to a folder of your own"}
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return &fault{"cannot be read (" + err.Error() + ")", "check the name and the disk or card it lies on"}
}

func tooManyBytes(n int64) error {
	return &fault{fmt.Sprintf("has %.1f GB, more than the %.1f GB that a picture's file may have",
		float64(n)/1e9, float64(MaxBytes)/1e9), "crop the picture to the crimp and its scale reference"}
}

// Decode decodes a picture from its file's bytes, which it reads only. Name is for messages and for its ending, which
// must not belie the content. The caller closes the picture.
func Decode(name string, data []byte) (Picture, error) {
	h, err := examine(name, data)
	if err != nil {
		return Picture{}, refused(name, err)
	}
	mat, deep, err := decodePixels(data, h)
	if err != nil {
		return Picture{}, refused(name, err)
	}
	if h.format == "jpeg" && endsEarly(mat) {
		_ = mat.Close()
		_ = deep.Close()
		return Picture{}, refused(name, cutShort(h.format, "a part of it is plain grey, as where data are missing"))
	}
	sum := sha256.Sum256(data)
	p := Picture{Name: name, SHA256: hex.EncodeToString(sum[:]), Format: h.format, Mat: mat, Depth: h.depth, Deep: deep}
	meta := readMetadata(h.exif)
	p.Taken, p.Camera = meta.taken(), meta.camera()
	p.FocalPX = meta.focalPX(h.width, h.height)
	return p, nil
}
