package vision

import (
	"fmt"
	"math"

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

	mostBevelMM   = 0.4 // what a bevel may look like as blur
	typicalBlurPX = 1.1
)

// checkReference notes the picture's sharpness and refuses one that is taken too flat or not sharp. blurPX is 0 where no
// edge could be read.
func checkReference(grey gocv.Mat, ref scale.Reference, rec *record.Record) (blurPX float64, err error) {
	if tilt := ref.Camera.TiltDeg(); tilt > mostTiltDeg {
		return 0, scale.Refusal{Reason: fmt.Sprintf("the tilt is too large: the %s is seen %.0f degrees from square, at most %d are measured: "+
			"hold the camera straight above it", ref.Kind, tilt, mostTiltDeg)}
	}
	if err := checkExposure(grey, ref, rec); err != nil {
		return 0, err
	}
	blurPX, ok := ref.BlurPX(grey)
	if !ok {
		return 0, nil
	}
	centre := ref.Points[len(ref.Points)/2]
	blurMM := blurPX * ref.MMPerPX(centre.X, centre.Y, 0)
	rec.Note("blur_px", blurPX, 2)
	rec.Note("blur_mm", blurMM, 4)
	if ref.Kind == "disc" && blurMM <= mostBevelMM {
		// A bevelled rim looks like a blurred one: the part's own edges tell, later.
		return math.Min(blurPX, typicalBlurPX), nil
	}
	if blurMM > mostBlurMM {
		return 0, scale.Refusal{Reason: fmt.Sprintf("the picture is blurred: edges are smeared over %.2f mm, at most %.2f can be measured: "+
			"hold still, let the camera focus on the part, use more light", 2.56*blurMM, 2.56*mostBlurMM)}
	}
	return blurPX, nil
}

// checkPart refuses a part that is too small in the picture or seen too much from aside.
func checkPart(mmPerPX float64, p part.Part, rec *record.Record) error {
	rec.Note("px_per_mm", 1/mmPerPX, 2)
	rec.Note("finder_margin", p.Margin, 3)
	along, across := p.Frame.View((p.RearX+p.FrontX)/2, 0)
	rec.Note("view_slope_along", along, 4)
	rec.Note("view_slope_across", across, 4)
	if 1/mmPerPX < leastPXPerMM {
		return scale.Refusal{Reason: fmt.Sprintf("the part is too small in the picture: %.1f pixels a millimetre, at least %d are needed: "+
			"go nearer or use the camera's full resolution", 1/mmPerPX, leastPXPerMM)}
	}
	return nil
}

const (
	leastWhite    = 45  // of 255: below, noise and shadow drown the edges of dark insulation
	mostBlack     = 200 // of 255: above, the light parts of metal and ground have run into one
	greyBlack     = 125 // of 255: printed black as light as this beside a white that has no tone left: light metal has none either
	plainWhite    = 252
	mostPale      = 245 // of 255: a disc and the ground it lies on, both of them of an unknown tone, are not both as light as this
	leastContrast = 25
)

// checkExposure looks at the reference's own light and dark, which are known to be light and dark.
func checkExposure(grey gocv.Mat, ref scale.Reference, rec *record.Record) error {
	words, known := toneWords[ref.Kind]
	light, dark, ok := ref.Tones(grey)
	if !known || !ok {
		return nil
	}
	rec.Quality[words.key+"_white"], rec.Quality[words.key+"_black"] = light, dark
	most, contrast := float64(mostBlack), float64(leastContrast)
	if words.anyTone {
		most, contrast = mostPale, 0
	}
	switch {
	case light < leastWhite || light-dark < contrast:
		return scale.Refusal{Reason: fmt.Sprintf("the picture is too dark: %s %.0f of 255, %s %.0f: use more light or a longer exposure",
			words.light, light, words.dark, dark)}
	case dark > most, !words.anyTone && light >= plainWhite && dark > greyBlack:
		return scale.Refusal{Reason: fmt.Sprintf("the picture is overexposed: %s %.0f of 255, %s %.0f: use less light or a shorter exposure",
			words.light, light, words.dark, dark)}
	}
	return nil
}

// toneWords are a reference's light and dark in words, and the beginning of their keys in the record's quality.
// anyTone is true where light and dark are merely the lighter and the darker of two things of which neither's tone is known.
var toneWords = map[string]struct {
	key, light, dark string
	anyTone          bool
}{
	"chessboard": {key: "board", light: "the board's white is", dark: "its black"},
	"rule":       {key: "rule", light: "the rule's steel is", dark: "its graduations"},
	"disc":       {key: "disc", light: "of the disc's face and its ground the lighter one is", dark: "the darker one", anyTone: true},
}
