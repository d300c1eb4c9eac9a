package vision

import (
	"context"
	"errors"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
	"crimprule/vision/picture"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/section"
)

// sectionWay measures the micrograph of a section by its drawn bar, a known scale, or both.
func sectionWay(ctx context.Context, pic picture.Picture, req Request, rec *record.Record) error {
	micro, err := microScale(pic, req)
	if err != nil {
		return err
	}
	rec.Scale = &record.Scale{Kind: micro.Kind, MMPerPX: micro.MMPerPX, URel: 2 * micro.RelU}
	rec.Notes = append(rec.Notes, micro.Notes...)
	if len(micro.Points) > 0 {
		rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkScale, Points: micro.Points})
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return section.Measure(section.Subject{Mat: pic.Mat, Deep: pic.Deep, Scale: micro, Declared: req.Declared, Debug: req.Debug}, rec)
}

// microScale is the scale that was declared; where a bar and a known scale were, they must agree.
func microScale(pic picture.Picture, req Request) (scale.Micro, error) {
	bar, hasBar := req.scale("bar")
	known, hasKnown := req.scale("known")
	declared := scale.Known(known.MMPerPX, known.HalfDigitMMPerPX)
	switch {
	case hasBar && hasKnown:
		measured, err := drawnBar(pic, bar.LengthMM)
		var refusal scale.Refusal
		if errors.As(err, &refusal) {
			refusal.Reason += "; or leave --scale bar out and rely on the declared length of a pixel alone"
			return scale.Micro{}, refusal
		}
		if err != nil {
			return scale.Micro{}, err
		}
		return scale.Agree(measured, declared)
	case hasBar:
		return drawnBar(pic, bar.LengthMM)
	case hasKnown:
		return declared, nil
	}
	return scale.Micro{}, scale.Refusal{Reason: record.NoScaleDeclared + ": say --scale bar=500um, with the length written beside the bar " +
		"that is drawn into the micrograph, or --scale known=2.05um/px, with the length of a pixel from the microscope's calibration"}
}

// drawnBar looks for the bar in the grey picture, and where there is none, in the lightest and the darkest of each
// pixel's three channels: a red bar on resin is as grey as the resin.
func drawnBar(pic picture.Picture, lengthMM float64) (scale.Micro, error) {
	grey := gocv.NewMat()
	defer grey.Close()
	if err := barGrey(pic, &grey); err != nil {
		return scale.Micro{}, err
	}
	found, err := scale.Bar(grey, lengthMM)
	var refusal scale.Refusal
	if !errors.As(err, &refusal) || pic.Mat.Channels() != 3 {
		return found, err
	}
	colours, err2 := pic.Mat.DataPtrUint8()
	if err2 != nil {
		return found, err2
	}
	for _, lightest := range []bool{true, false} {
		one, err2 := oneChannel(colours, pic.Mat.Rows(), pic.Mat.Cols(), lightest)
		if err2 != nil {
			return found, err2
		}
		coloured, err2 := scale.Bar(one, lengthMM)
		_ = one.Close()
		if err2 == nil {
			return coloured, nil
		}
	}
	return found, err
}

// barGrey is the picture in grey, 8 bits. Where the file's 16 bits are used in part only, so that 8 would show little,
// they are stretched.
func barGrey(pic picture.Picture, grey *gocv.Mat) error {
	if pic.Deep.Empty() {
		return cvx.CvtColor(pic.Mat, grey, gocv.ColorBGRToGray)
	}
	values, err := pic.Deep.DataPtrUint16()
	if err != nil {
		return err
	}
	highest := max(1, slices.Max(values))
	deep := gocv.NewMat()
	defer deep.Close()
	if err := cvx.ConvertTo(pic.Deep, &deep, gocv.MatTypeCV8U, 255/float64(highest), 0); err != nil {
		return err
	}
	if deep.Channels() == 1 {
		deep.CopyTo(grey)
		return nil
	}
	return cvx.CvtColor(deep, grey, gocv.ColorBGRToGray)
}

// oneChannel is the lightest or the darkest of each pixel's three values. The caller closes it.
func oneChannel(colours []uint8, rows, cols int, lightest bool) (gocv.Mat, error) {
	values := make([]uint8, rows*cols)
	for i := range values {
		c := colours[3*i : 3*i+3 : 3*i+3]
		if lightest {
			values[i] = max(c[0], c[1], c[2])
		} else {
			values[i] = min(c[0], c[1], c[2])
		}
	}
	return gocv.NewMatFromBytes(rows, cols, gocv.MatTypeCV8UC1, values)
}
