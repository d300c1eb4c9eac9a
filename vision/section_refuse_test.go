package vision

import (
	"context"
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	drawn "crimprule/internal/drawn/section"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// Sections that cannot be measured are refused, each with its own reason and with no value.
func TestPoorSectionsAreRefused(t *testing.T) {
	good := readSection(t, "../testdata/section/section-1018.jpg", "../testdata/section/section-1018.json")
	scene := drawn.Random(12)
	spoilt := func(why string) picture.Picture {
		s := scene.Spoil(why)
		if why == "no_section" {
			s.Look.Bubbles = 8
		}
		img, _ := s.Draw()
		m, err := gocv.ImageToMatRGB(img)
		require.NoError(t, err)
		return picture.Picture{Name: why, Depth: 8, Mat: m, Deep: gocv.NewMat()}
	}
	changed := func(change func(s gocv.Mat, d *gocv.Mat)) picture.Picture {
		pic, err := picture.Open(good.path)
		require.NoError(t, err)
		m := gocv.NewMat()
		change(pic.Mat, &m)
		_ = pic.Mat.Close()
		pic.Mat = m
		return pic
	}
	photo, err := picture.Open("../testdata/photo/photo-1014.jpg")
	require.NoError(t, err)
	crimp, err := picture.Open(clean)
	require.NoError(t, err)
	for _, c := range []struct {
		name string
		pic  picture.Picture
		says string
	}{
		// 6.43 um a pixel: 5 px are 32 um, twice the limit of 15.
		{"blurred", changed(func(s gocv.Mat, d *gocv.Mat) { gocv.GaussianBlur(s, d, image.Point{}, 5, 5, gocv.BorderReplicate) }), "out of focus"},
		{"out of focus", spoilt("out_of_focus"), "out of focus"},
		{"cut off at the left", changed(func(s gocv.Mat, d *gocv.Mat) {
			r := s.Region(image.Rect(s.Cols()/2, 0, s.Cols(), s.Rows()))
			defer r.Close()
			r.CopyTo(d)
		}), "not whole in the frame"},
		{"moved out of the frame", spoilt("section_incomplete"), "not whole in the frame"},
		{"only resin with bubbles", spoilt("no_section"), "no section was found"},
		{"ground, not polished", spoilt("not_polished"), "not polished"},
		{"too small in the frame", changed(func(s gocv.Mat, d *gocv.Mat) {
			small := gocv.NewMat()
			defer small.Close()
			gocv.Resize(s, &small, image.Pt(s.Cols()/4, s.Rows()/4), 0, 0, gocv.InterpolationArea)
			tone := small.Mean()
			fill := color.RGBA{R: uint8(tone.Val3 / 2), G: uint8(tone.Val2 / 2), B: uint8(tone.Val1 / 2)}
			gocv.CopyMakeBorder(small, d, 0, 0, 0, 0, gocv.BorderConstant, fill)
		}), "too small in the picture"},
		// A photo of something else may be refused for any of the reasons.
		{"a chessboard", photo, ""},
		{"a crimp seen from above", crimp, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			defer c.pic.Close()
			rec, err := Measure(context.Background(), c.pic, good.request)
			require.NoError(t, err)
			assertRefused(t, rec)
			assert.Contains(t, rec.Retake[0], c.says)
			t.Log(rec.Retake[0])
			assert.Nil(t, rec.Voids)
			assert.Empty(t, rec.Strands)
			assert.Empty(t, rec.Cracks)
		})
	}
}

// A micrograph of which no scale was declared, or one that serves photos only: nothing is guessed.
func TestASectionWithoutAScaleIsNotMeasured(t *testing.T) {
	pic := openPhoto(t, "../testdata/section/section-1018.jpg")
	for _, scales := range [][]ScaleOption{nil, {{Kind: "chessboard", LengthMM: 5}}} {
		rec, err := Measure(context.Background(), pic, Request{View: record.Section, Scales: scales})
		require.NoError(t, err)
		assertRefused(t, rec)
		assert.Contains(t, rec.Retake[0], "no scale was declared")
		assert.Contains(t, rec.Retake[0], "--scale bar=500um")
	}
}

// Any picture is refused in words, whatever its size and content, and none ends the program.
func TestPicturesWithoutASectionAreRefused(t *testing.T) {
	for name, c := range meaningless() {
		for _, scale := range []ScaleOption{{Kind: "known", MMPerPX: 0.003, HalfDigitMMPerPX: 0.000005}, {Kind: "bar", LengthMM: 0.5}} {
			t.Run(name+" "+scale.Kind, func(t *testing.T) {
				pic := drawnPicture(t, c.width, c.height, c.next)
				defer pic.Close()
				rec, err := Measure(context.Background(), pic, Request{View: record.Section, Scales: []ScaleOption{scale}})
				require.NoError(t, err)
				assertRefused(t, rec)
			})
		}
	}
}
