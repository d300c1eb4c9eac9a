package vision

import (
	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/scale"
)

// reference finds the declared scale references of a photo.
func reference(pic picture.Picture, grey gocv.Mat, options []ScaleOption) (scale.Reference, error) {
	for _, o := range options {
		switch o.Kind {
		case "chessboard":
			return scale.Chessboard(grey, o.LengthMM, pic.FocalPX)
		case "rule":
			return scale.Rule(pic.Mat, grey, o.LengthMM, pic.FocalPX)
		case "disc":
			return scale.Disc(pic.Mat, grey, o.LengthMM, pic.FocalPX)
		}
	}
	return scale.Reference{}, scale.Refusal{Reason: "no scale was declared: put a printed chessboard, a steel rule or a disc of known diameter " +
		"beside the part and say --scale chessboard=5mm, --scale rule=1mm or --scale disc=20mm"}
}
