package scale

import (
	"fmt"
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
)

const (
	smearSide   = 1000. // px, long side of the reduced picture in which smear is looked for
	fineSigma   = 1.5   // px there
	coarseSigma = 6.
	smearTurns  = 8
	steepest    = 0.997 // share of the places whose slopes are no edges
)

// smeared is the crispness below which edges run out over so many pixels that graduations and squares are wiped out. Pictures
// blurred on purpose by 1 % of their width lie at 0.3 to 0.5, sharp ones of a rule or a card at 0.6 to 1, one small part on
// an even ground at 0.5.
const smeared = 0.42

// noneFound says why a reference was not found: a picture without a sharp edge in some direction was shaken or is out of
// focus; any other for the given reason.
func noneFound(grey gocv.Mat, what, reason string) error {
	crisp, err := crispness(grey)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	if crisp < smeared {
		return Refusal{"the picture is blurred by motion or out of focus, and no " + what + " can be told in it: hold still, let the camera " +
			"focus on the part and the " + what + ", use more light"}
	}
	return Refusal{reason}
}

// crispness compares the steepest slopes of brightness in a fine and a coarse picture, each times its own blur, in the direction in
// which they fare worst. A sharp step gives the same in both, and so 1; one that is smeared over b px gives
// about the ratio of the two blurs. The worst direction finds a camera that was shaken in one direction only. (Scale-normalised
// derivatives: Lindeberg 1998, from memory.) A picture without content gives 1.
func crispness(grey gocv.Mat) (float64, error) {
	small := gocv.NewMat()
	defer func() { _ = small.Close() }()
	shrink := math.Min(1, smearSide/float64(max(grey.Cols(), grey.Rows())))
	size := image.Pt(max(1, int(float64(grey.Cols())*shrink+0.5)), max(1, int(float64(grey.Rows())*shrink+0.5)))
	if err := cvx.Resize(grey, &small, size, gocv.InterpolationArea); err != nil {
		return 1, err
	}
	if err := cvx.ConvertTo(small, &small, gocv.MatTypeCV32F, 1, 0); err != nil {
		return 1, err
	}
	fine, err := slopes(small, fineSigma)
	if err != nil {
		return 1, err
	}
	coarse, err := slopes(small, coarseSigma)
	if err != nil {
		return 1, err
	}
	worst := 1.
	const leastSlope = 2. // grey levels: less is noise
	for k := range fine {
		if c := coarse[k] * coarseSigma; c > leastSlope {
			worst = math.Min(worst, fine[k]*fineSigma/c)
		}
	}
	return worst, nil
}

// slopes are the steep slopes in each of several directions, grey levels a px, in the picture under a Gaussian blur.
func slopes(small gocv.Mat, sigma float64) (out [smearTurns]float64, err error) {
	soft := gocv.NewMat()
	defer func() { _ = soft.Close() }()
	if err := cvx.GaussianBlur(small, &soft, image.Pt(0, 0), sigma, sigma, gocv.BorderReplicate); err != nil {
		return out, err
	}
	v, err := soft.DataPtrFloat32()
	if err != nil {
		return out, err
	}
	w, h := soft.Cols(), soft.Rows()
	var counts [smearTurns][slopeBins]int
	var sin, cos [smearTurns]float32
	for k := range counts {
		s, c := math.Sincos(math.Pi * float64(k) / smearTurns)
		sin[k], cos[k] = float32(s)/2, float32(c)/2
	}
	const every = 2 // px
	n := 0
	for y := 1; y < h-1; y += every {
		for x := 1; x < w-1; x += every {
			o := y*w + x
			dx, dy := v[o+1]-v[o-1], v[o+w]-v[o-w]
			for k := range counts {
				s := cos[k]*dx + sin[k]*dy
				counts[k][min(int(max(s, -s)*binsALevel), slopeBins-1)]++
			}
			n++
		}
	}
	for k := range counts {
		out[k] = steepSlope(&counts[k], n)
	}
	return out, nil
}

const (
	binsALevel = 32 // histogram bins a grey level
	slopeBins  = 128 * binsALevel
)

// steepSlope is the slope that all but the steepest places stay below.
func steepSlope(counts *[slopeBins]int, n int) float64 {
	above := 0
	for b := slopeBins - 1; b > 0; b-- {
		if above += counts[b]; float64(above) > (1-steepest)*float64(n) {
			return (float64(b) + 0.5) / binsALevel
		}
	}
	return 0
}
