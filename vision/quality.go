package vision

import (
	"fmt"

	"gocv.io/x/gocv"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// What a photo must bring so that it is measured at all. A strand is 0.25 mm and more thick, and the gap's limit is a
// millimetre: with fewer pixels, more blur or a flatter view their edges run together.
const (
	leastPXPerMM = 9
	mostBlurMM   = 0.12 // standard deviation of the edge spread: a strand's two edges run together
	mostTiltDeg  = 30
)

// checkReference notes the picture's sharpness and refuses one that is taken too flat or not sharp. blurPX is 0 where no
// edge could be read.
func checkReference(grey gocv.Mat, ref scale.Reference, rec *record.Record) (blurPX float64, err error) {
	if tilt := ref.Camera.TiltDeg(); tilt > mostTiltDeg {
		return 0, scale.Refusal{Reason: fmt.Sprintf("the tilt is too large: the card is seen %.0f degrees from square, at most %d are measured: "+
			"hold the camera straight above the card", tilt, mostTiltDeg)}
	}
	blurPX, ok := ref.BlurPX(grey)
	if !ok {
		return 0, nil
	}
	centre := ref.Points[len(ref.Points)/2]
	blurMM := blurPX * ref.MMPerPX(centre.X, centre.Y, 0)
	rec.Quality["blur_px"], rec.Quality["blur_mm"] = round(blurPX, 2), round(blurMM, 4)
	if blurMM > mostBlurMM {
		return 0, scale.Refusal{Reason: fmt.Sprintf("the picture is blurred: edges are smeared over %.2f mm, at most %.2f can be measured: "+
			"hold still, let the camera focus on the part, use more light", 2.56*blurMM, 2.56*mostBlurMM)}
	}
	return blurPX, nil
}

// checkPart refuses a part that is too small in the picture or seen too much from aside.
func checkPart(mmPerPX float64, p part.Part, rec *record.Record) error {
	rec.Quality["px_per_mm"] = round(1/mmPerPX, 2)
	rec.Quality["finder_margin"] = round(p.Margin, 3)
	along, across := p.Frame.View((p.RearX+p.FrontX)/2, 0)
	rec.Quality["view_slope_along"], rec.Quality["view_slope_across"] = round(along, 4), round(across, 4)
	if 1/mmPerPX < leastPXPerMM {
		return scale.Refusal{Reason: fmt.Sprintf("the part is too small in the picture: %.1f pixels a millimetre, at least %d are needed: "+
			"go nearer or use the camera's full resolution", 1/mmPerPX, leastPXPerMM)}
	}
	return nil
}

// round keeps the figures of the quality block readable; they are no measurands.
func round(v float64, digits int) float64 {
	p := 1.0
	for range digits {
		p *= 10
	}
	if v < 0 {
		return float64(int(v*p-0.5)) / p
	}
	return float64(int(v*p+0.5)) / p
}
