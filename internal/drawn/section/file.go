package section

import (
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"

	"golang.org/x/image/tiff"

	"crimprule/vision/record"
)

// Draw makes the picture and its truth.
func (s Scene) Draw() (image.Image, Truth) {
	g := s.build()
	f := s.paint(g)
	s.surface(f)
	if s.Format.Grey {
		f.grey()
	}
	f.expose(s.Optics, hash(uint64(s.Seed), 41))
	if s.Format.Grey {
		f.grey()
	}
	if s.Scale.BarUM > 0 {
		s.bar().draw(f)
	}
	return f.image(s.Format), s.truth(g)
}

// Truth of the scene, without drawing it.
func (s Scene) Truth() Truth { return s.truth(s.build()) }

// image stores the display values.
func (f *film) image(k Format) image.Image {
	r := image.Rect(0, 0, f.w, f.h)
	to := func(v float32, top float64) float64 { return math.Round(top * clamp(float64(v), 0, 1)) }
	if k.Grey && k.Bits == 16 {
		out := image.NewGray16(r)
		for i := range f.w * f.h {
			v := uint16(to(f.pix[3*i], 65535))
			out.Pix[2*i], out.Pix[2*i+1] = uint8(v>>8), uint8(v)
		}
		return out
	}
	if k.Grey {
		out := image.NewGray(r)
		for i := range out.Pix {
			out.Pix[i] = uint8(to(f.pix[3*i], 255))
		}
		return out
	}
	out := image.NewRGBA(r)
	for i := range f.w * f.h {
		for c := range 3 {
			out.Pix[4*i+c] = uint8(to(f.pix[3*i+c], 255))
		}
		out.Pix[4*i+3] = 255
	}
	return out
}

// encode writes the picture in the scene's format.
func (k Format) encode(w io.Writer, img image.Image) error {
	switch k.Kind {
	case "png":
		return png.Encode(w, img)
	case "tif":
		if c, ok := img.(*image.RGBA); ok {
			return encodeTIFF(w, c)
		}
		return tiff.Encode(w, img, &tiff.Options{Compression: tiff.Deflate, Predictor: true})
	}
	return jpeg.Encode(w, img, &jpeg.Options{Quality: k.Quality})
}

// Ending is that of the picture's file name, without the point.
func (k Format) Ending() string {
	if k.Kind == "" {
		return "jpg"
	}
	return k.Kind
}

// truthFile is the form of a truth file beside a picture.
type truthFile struct {
	Image        string                 `json:"image"`
	View         record.View            `json:"view"`
	ScaleOption  string                 `json:"scale_option"`
	Truth        map[record.Key]float64 `json:"truth"`
	Defects      []string               `json:"defects"`
	ExpectRetake *string                `json:"expect_retake"`
	Conditions   any                    `json:"conditions"`
	Declared     map[string]float64     `json:"declared"`
	Aid          Aid                    `json:"aid"`
}

// Write draws the scene into picture, a path whose ending should be Format.Ending(), and writes its truth into truth
// (JSON). Both folders must exist.
func (s Scene) Write(picture, truth string) error {
	img, t := s.Draw()
	text, err := json.Marshal(s.file(filepath.Base(picture), t))
	if err != nil {
		return fmt.Errorf("cannot write the truth of %s: %w", picture, err)
	}
	if err := os.WriteFile(truth, append(text, '\n'), 0o644); err != nil {
		return fmt.Errorf("cannot write the truth of %s: %w", picture, err)
	}
	f, err := os.Create(picture)
	if err != nil {
		return fmt.Errorf("cannot write the picture: %w", err)
	}
	if err := s.Format.encode(f, img); err != nil {
		_ = f.Close()
		return fmt.Errorf("cannot write the picture %s: %w", picture, err)
	}
	return f.Close()
}

// ScaleOption is what --scale must be told.
func (s Scene) ScaleOption() string {
	if s.Scale.BarUM > 0 {
		return fmt.Sprintf("bar=%gum", s.Scale.BarUM)
	}
	return fmt.Sprintf("known=%gum/px", math.Round(s.MMPerPX*1e9)/1e6)
}

func (s Scene) file(name string, t Truth) truthFile {
	f := truthFile{Image: name, View: record.Section, ScaleOption: s.ScaleOption(), Truth: map[record.Key]float64{}, Defects: s.Defects,
		Declared: map[string]float64{}, Aid: t.Aid}
	for k, v := range t.Values {
		f.Truth[k] = math.Round(v*1e6) / 1e6
	}
	if s.ExpectRetake != "" {
		f.ExpectRetake = &s.ExpectRetake
	}
	if f.Defects == nil {
		f.Defects = []string{}
	}
	tell := func(key string, v float64) {
		if v > 0 {
			f.Declared[key] = v
		}
	}
	d := t.Declared
	tell("conductor_area_mm2", d.ConductorAreaMM2)
	tell("strand_count", float64(d.StrandCount))
	tell("strand_diameter", d.StrandDiameterMM)
	tell("sheet_thickness", d.SheetMM)
	f.Conditions = map[string]any{"seed": s.Seed, "width": s.Width, "height": s.Height, "sleeve": s.Sleeve, "fill": s.Fill, "look": s.Look,
		"optics": s.Optics, "format": s.Format, "mirrored": s.Mirrored}
	return f
}
