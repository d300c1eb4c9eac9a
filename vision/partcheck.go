package vision

import (
	"fmt"
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/subpixel"
)

// checkFound refuses a part that cannot be measured as it lies in the picture, each case with its own reason, and notes
// what was seen.
func checkFound(im part.Image, p part.Part, rec *record.Record) error {
	rec.Note("region_certainty", p.Certainty, 3)
	if err := checkWhole(im, p); err != nil {
		return err
	}
	if err := checkMetal(im, p, rec); err != nil {
		return err
	}
	return checkFocus(im, p, rec)
}

// checkWhole refuses a part of which the picture's edge cuts off something that is measured.
func checkWhole(im part.Image, p part.Part) error {
	half := p.WireMM/2 + 0.2
	for _, end := range []struct {
		x    float64
		name string
	}{{-1.2, "insulation"}, {p.FrontX + 0.8, "front"}} {
		for _, y := range []float64{-half, half} {
			at := p.Frame.Pixel(end.x, y, 0)
			if at.X < 0 || at.Y < 0 || at.X > float64(im.W-1) || at.Y > float64(im.H-1) {
				return scale.Refusal{Reason: fmt.Sprintf("the part is cut off by the picture's edge at its %s: go a little farther away or move it "+
					"into the middle of the picture", end.name)}
			}
		}
	}
	return nil
}

const (
	clipped      = 252 // of 255, in all channels
	mostClipped  = 0.6 // of the metal's area: then its edges and its seam have run into one white
	leastMetal   = 16  // of 255: the metal's 80th percentile
	metalStepMM  = 0.1
	metalLeastPX = 50
)

// checkMetal refuses a picture in which the metal itself is over- or underexposed, whatever the reference looks like.
func checkMetal(im part.Image, p part.Part, rec *record.Record) error {
	metal := part.Sleeve
	if p.View == record.Strip {
		metal = part.Conductor
	}
	strip := part.NewStrip(im, p.Frame, p.RearX, p.FrontX, -p.WireMM/2, p.WireMM/2, 0, 1/metalStepMM)
	var bright []float64
	white := 0.0
	for j := range strip.Chan[0].H {
		for i := range strip.Chan[0].W {
			if c, _ := p.Regions.Class(p.Frame, strip.X(float64(i)), strip.Y(float64(j))); c != metal {
				continue
			}
			k := j*strip.Chan[0].W + i
			b, g, r := strip.Chan[0].Pix[k], strip.Chan[1].Pix[k], strip.Chan[2].Pix[k]
			bright = append(bright, float64(max(b, g, r)))
			if min(b, g, r) >= clipped {
				white++
			}
		}
	}
	if len(bright) < metalLeastPX {
		return nil
	}
	share, light := white/float64(len(bright)), subpixel.Percentile(bright, 80)
	rec.Note("metal_clipped", share, 3)
	rec.Note("metal_bright", light, 0)
	switch {
	case share > mostClipped:
		return scale.Refusal{Reason: fmt.Sprintf("the metal is overexposed: %.0f %% of it is plain white: use softer light from the side, no flash, "+
			"or a shorter exposure", 100*share)}
	case light < leastMetal:
		return scale.Refusal{Reason: fmt.Sprintf("the metal is too dark: its bright parts reach %.0f of 255: use more light", light)}
	}
	return nil
}

const (
	focusBlockMM  = 0.4 // of a border, averaged along the axis
	focusReachMM  = 0.5
	focusLeast    = 25 // levels of contrast below which a border tells nothing
	focusLeastOf  = 4  // blocks
	focusQuantile = 20 // rounded sides and shadows widen borders, nothing narrows them: the narrow ones tell the blur
)

// checkFocus refuses a part whose own borders are smeared, whatever the reference looks like: the camera may have focused
// on the card, or the part may have moved. The blur is the standard deviation of a Gaussian edge of the same greatest
// slope: contrast / (slope·√(2π)).
func checkFocus(im part.Image, p part.Part, rec *record.Record) error {
	at := p.Frame.Pixel(0, 0, 0)
	nextTo := p.Frame.Pixel(1, 0, 0)
	ppm := math.Min(40, math.Hypot(nextTo.X-at.X, nextTo.Y-at.Y))
	var blurs []float64
	for x := -4.0; x < p.FrontX; x += focusBlockMM {
		for _, side := range []float64{-1, 1} {
			y, ok := outermost(p, x+focusBlockMM/2, side)
			if !ok {
				continue
			}
			strip := part.NewStrip(im, p.Frame, x, x+focusBlockMM, y-focusReachMM, y+focusReachMM, 0, ppm)
			if blur, ok := edgeBlur(strip); ok {
				blurs = append(blurs, blur)
			}
		}
	}
	if len(blurs) < focusLeastOf {
		return nil
	}
	blur := subpixel.Percentile(blurs, focusQuantile)
	rec.Note("part_blur_mm", blur, 4)
	if blur > mostBlurMM {
		return scale.Refusal{Reason: fmt.Sprintf("the part is blurred: its edges are smeared over %.2f mm, at most %.2f can be measured: "+
			"hold still, let the camera focus on the part, use more light", 2.56*blur, 2.56*mostBlurMM)}
	}
	return nil
}

// outermost is where, coming from outside on one side, the part begins at x; ok is false where it does not.
func outermost(p part.Part, x, side float64) (y float64, ok bool) {
	for d := p.WireMM/2 + 1; d > 0.5; d -= 0.05 {
		if c, share := p.Regions.Class(p.Frame, x, side*d); share > 0.6 && (c == part.Insulation || c == part.Sleeve || c == part.Conductor) {
			return side * d, true
		}
	}
	return 0, false
}

// edgeBlur is the blur of the border that runs along x through the strip's middle, mm.
func edgeBlur(s *part.Strip) (mm float64, ok bool) {
	w, h := s.Chan[0].W, s.Chan[0].H
	v := make([]float64, h)
	for c := range s.Chan {
		for k, p := range s.Chan[c].Pix {
			v[k/w] += float64(p) / float64(3*w)
		}
	}
	steepest := 0.0
	for j := 1; j+1 < h; j++ {
		steepest = math.Max(steepest, math.Abs(v[j+1]-v[j-1])/2)
	}
	end := max(1, h/5)
	contrast := math.Abs(subpixel.Percentile(v[:end], 50) - subpixel.Percentile(v[h-end:], 50))
	if contrast < focusLeast {
		return 0, false
	}
	return contrast / (steepest * s.PPM) / math.Sqrt(2*math.Pi), true
}
