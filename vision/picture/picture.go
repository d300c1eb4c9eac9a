// Package picture turns a file's bytes into an upright picture: it tells what the file is, refuses what it must not
// decode, applies the orientation once, and keeps what the metadata say.
package picture

import "gocv.io/x/gocv"

// Picture is a decoded, upright picture. Close it when done.
type Picture struct {
	Name   string // as the user gave it
	SHA256 string // of the file's bytes, hex
	Format string // jpeg, png, tiff, webp
	// Mat is 8-bit BGR whatever the file held; gocv memory, owned by the picture.
	Mat gocv.Mat
	// Depth is the bits a channel of the file; Deep holds the original values where that is 16, else it is empty.
	Depth int
	Deep  gocv.Mat

	Taken  string // date and time of the exposure; RFC 3339 where the zone is known; "" where unknown
	Camera string // make and model, "" where unknown
	// FocalPX is the focal length in pixels of this picture, from the metadata's 35 mm equivalent; 0 where unknown.
	FocalPX float64
}

// Close frees the pixels.
func (p *Picture) Close() {
	_ = p.Mat.Close()
	_ = p.Deep.Close()
}
