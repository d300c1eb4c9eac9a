package vision

import (
	"context"

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
		if err != nil {
			return scale.Micro{}, err
		}
		return scale.Agree(measured, declared)
	case hasBar:
		return drawnBar(pic, bar.LengthMM)
	case hasKnown:
		return declared, nil
	}
	return scale.Micro{}, scale.Refusal{Reason: "no scale was declared: say --scale bar=500um, with the length written beside the bar " +
		"that is drawn into the micrograph, or --scale known=2.05um/px, with the length of a pixel from the microscope's calibration"}
}

func drawnBar(pic picture.Picture, lengthMM float64) (scale.Micro, error) {
	grey := gocv.NewMat()
	defer grey.Close()
	if err := cvx.CvtColor(pic.Mat, &grey, gocv.ColorBGRToGray); err != nil {
		return scale.Micro{}, err
	}
	return scale.Bar(grey, lengthMM)
}
