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
func checkFound(im part.Image, p part.Part, declared record.Declared, rec *record.Record) error {
	rec.Note("region_certainty", p.Certainty, 3)
	if err := checkDeclared(p, declared); err != nil {
		return err
	}
	if err := checkWhole(im, p); err != nil {
		return err
	}
	if err := checkMetal(im, p, rec); err != nil {
		return err
	}
	return checkFocus(im, p, rec)
}

const (
	mostWireOff    = 0.35 // of the insulation's diameter; its region is right to some 3 %
	mostStrandWire = 0.25 // a fine strand is no quarter as thick as the insulation
)

// checkDeclared refuses what is declared of the part where the picture plainly contradicts it: a slip of the keyboard would
// else go into the values unseen.
func checkDeclared(p part.Part, d record.Declared) error {
	say := func(what string, value float64, unit string) error {
		return scale.Refusal{Reason: fmt.Sprintf("the declared %s of %g %s does not fit the picture, which shows an insulation about %.1f mm thick: "+
			"check what is declared of the part, and the scale", what, value, unit, p.WireMM)}
	}
	switch {
	case p.WireMM <= 0:
		return nil
	case d.InsulationDiameter > 0 && math.Abs(p.WireMM/d.InsulationDiameter-1) > mostWireOff:
		return say("insulation_diameter", d.InsulationDiameter, "mm")
	case d.StrandDiameter > mostStrandWire*p.WireMM:
		return say("strand_diameter", d.StrandDiameter, "mm")
	case d.ConductorArea > math.Pi/4*p.WireMM*p.WireMM:
		return say("conductor_area", d.ConductorArea, "mm2")
	case d.SheetThickness > p.WireMM/2:
		return say("sheet_thickness", d.SheetThickness, "mm")
	}
	return nil
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

// checkFocus refuses a part that is itself smeared, whatever the reference looks like: the camera may have focused on the
// card, or the part may have moved. A picture of range r that is blurred by a Gaussian of standard deviation s has no slope
// above r/(s·√(2π)): the steepest slopes round the sleeve, along the axis and across it, tell how blurred it can be at
// most. The worse direction counts, since a moving part smears one of them only.
func checkFocus(im part.Image, p part.Part, rec *record.Record) error {
	at, next := p.Frame.Pixel(0, 0, 0), p.Frame.Pixel(1, 0, 0)
	ppm := math.Min(40, math.Hypot(next.X-at.X, next.Y-at.Y))
	half := p.WireMM/2 + 0.5
	s := part.NewStrip(im, p.Frame, -2, p.FrontX+1, -half, half, 0, ppm)
	w, h := s.Chan[0].W, s.Chan[0].H
	grey := make([]float64, w*h)
	for i := range grey {
		grey[i] = float64(s.Chan[0].Pix[i]+s.Chan[1].Pix[i]+s.Chan[2].Pix[i]) / 3
	}
	spread := subpixel.Percentile(grey, 99) - subpixel.Percentile(grey, 1)
	along, across := make([]float64, 0, w*h), make([]float64, 0, w*h)
	for y := 1; y+1 < h; y++ {
		for x := 1; x+1 < w; x++ {
			i := y*w + x
			along = append(along, math.Abs(grey[i+1]-grey[i-1])/2*ppm)
			across = append(across, math.Abs(grey[i+w]-grey[i-w])/2*ppm)
		}
	}
	steepest := math.Min(subpixel.Percentile(along, steepShare), subpixel.Percentile(across, steepShare))
	blur := spread / math.Max(steepest, 1e-9) / math.Sqrt(2*math.Pi)
	rec.Note("part_blur_mm", blur, 4)
	if blur > mostPartBlurMM {
		return scale.Refusal{Reason: fmt.Sprintf("the part is blurred: not one edge of it is sharper than %.2f mm, %.2f are needed: "+
			"hold still, let the camera focus on the part, use more light", 2.56*blur, 2.56*mostPartBlurMM)}
	}
	return nil
}

const (
	steepShare     = 99.7 // per cent: the steepest of some thousands of pixels, few enough that one clear edge gives them
	mostPartBlurMM = 0.25 // no edge of a part has the picture's whole range, so that sharp pictures show 0.05 to 0.17 mm
)
