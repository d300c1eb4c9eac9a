package vision

import (
	"errors"
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// findReference finds one declared reference; known is false for a kind that photos do not have.
func findReference(pic picture.Picture, grey gocv.Mat, o ScaleOption) (ref scale.Reference, known bool, err error) {
	switch o.Kind {
	case "chessboard":
		ref, err = scale.Chessboard(grey, o.LengthMM, pic.FocalPX)
	case "rule":
		ref, err = scale.Rule(pic.Mat, grey, o.LengthMM, pic.FocalPX)
	case "disc":
		ref, err = scale.Disc(pic.Mat, grey, o.LengthMM, pic.FocalPX)
	default:
		return ref, false, nil
	}
	return ref, true, err
}

// reference finds the declared scale references of a photo. Of several that are seen the surest is used; they must agree. One
// that is declared and not seen is noted where another serves.
func reference(pic picture.Picture, grey gocv.Mat, options []ScaleOption) (scale.Reference, error) {
	var found []scale.Reference
	var missed []scale.Refusal
	for _, o := range options {
		ref, known, err := findReference(pic, grey, o)
		var refusal scale.Refusal
		switch {
		case !known:
		case err == nil:
			found = append(found, ref)
		case errors.As(err, &refusal):
			missed = append(missed, refusal)
		default:
			return ref, err
		}
	}
	if len(found) == 0 && len(missed) > 0 {
		return scale.Reference{}, missed[0]
	}
	if len(found) == 0 {
		return scale.Reference{}, scale.Refusal{Reason: record.NoScaleDeclared + ": put a printed chessboard, a steel rule or a disc of known diameter " +
			"beside the part and say --scale chessboard=5mm, --scale rule=1mm or --scale disc=20mm"}
	}
	best, err := surest(found, float64(grey.Cols()-1)/2, float64(grey.Rows()-1)/2)
	for _, m := range missed {
		best.Notes = append(best.Notes, "a declared scale reference is not used: "+m.Reason)
	}
	return best, err
}

// surest gives the reference with the least uncertainty of lengths on the ground in the picture's middle (x, y), after
// comparing all of them with it there. They disagree where En = |a-b|/sqrt(Ua²+Ub²) exceeds 1, U with k = 2, as in
// proficiency tests (ISO 13528, from memory).
func surest(found []scale.Reference, x, y float64) (scale.Reference, error) {
	best := 0
	for i := range found {
		if groundU(found[i], x, y) < groundU(found[best], x, y) {
			best = i
		}
	}
	ref := found[best]
	a, ua := ref.MMPerPX(x, y, ref.GroundZMM), groundU(ref, x, y)
	for i, other := range found {
		if i == best {
			continue
		}
		b, ub := other.MMPerPX(x, y, other.GroundZMM), groundU(other, x, y)
		figures := fmt.Sprintf("in the picture's middle a pixel is %.5f mm ± %.2f %% by the %s and %.5f mm ± %.2f %% by the %s",
			a, 200*ua, ref.Kind, b, 200*ub, other.Kind)
		if math.Abs(math.Log(a/b)) > 2*math.Hypot(ua, ub) {
			return ref, scale.Refusal{Reason: "the scale references contradict each other: " + figures + ": measure the printed squares or " +
				"the disc, look whether the declared lengths are right and whether all lie flat on one ground"}
		}
		ref.Notes = append(ref.Notes, "the scale references agree: "+figures+"; the "+ref.Kind+" is used")
		ref.Beside = append(ref.Beside, other.Outline)
	}
	return ref, nil
}

// groundU is the relative standard uncertainty of lengths on the ground at a pixel: the reference's own, and that of how far
// below it the ground lies.
func groundU(r scale.Reference, x, y float64) float64 {
	return math.Hypot(r.RelUAt(x, y, r.GroundZMM), r.UGroundMM/r.Camera.Position().Z)
}
