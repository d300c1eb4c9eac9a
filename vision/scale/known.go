package scale

import (
	"fmt"
	"math"
)

// Known is the scale that the user declares: the length of a pixel, in mm. Its uncertainty is that of the rounding to
// the digits in which it was written: anything within half a step of the last one is equally likely, hence half a step
// divided by the root of three (JCGM 100:2008, 4.3.7). How well the microscope was calibrated is not in it.
func Known(mmPerPX, halfDigitMM float64) Micro {
	return Micro{Kind: "known", MMPerPX: mmPerPX, RelU: halfDigitMM / math.Sqrt(3) / mmPerPX}
}

// Agree joins two scales of one picture, such as a drawn bar and a declared length of a pixel. Where they lie within
// their combined expanded uncertainty (k = 2) of each other it gives their mean, weighted by the inverse squares of
// their uncertainties, with labels and points of both and the kind of the first; else a Refusal that quotes both.
func Agree(a, b Micro) (Micro, error) {
	ua, ub := a.MMPerPX*a.RelU, b.MMPerPX*b.RelU
	difference, allowed := math.Abs(a.MMPerPX-b.MMPerPX), 2*math.Hypot(ua, ub)
	if !(difference <= allowed) {
		return Micro{}, Refusal{Reason: fmt.Sprintf("the two scales do not agree: by the %s a pixel is %s, by the %s it is %s: find out which "+
			"is wrong (the length written beside the bar, the objective, a picture that was resized) and give only the right one",
			a.inWords(), a.quoted(), b.inWords(), b.quoted())}
	}
	joint := a
	weightA, weightB := 1/(ua*ua), 1/(ub*ub)
	switch {
	case ua == 0: // a value without any doubt stands as it is
	case ub == 0:
		joint.MMPerPX, joint.RelU = b.MMPerPX, 0
	default:
		joint.MMPerPX = (weightA*a.MMPerPX + weightB*b.MMPerPX) / (weightA + weightB)
		joint.RelU = 1 / math.Sqrt(weightA+weightB) / joint.MMPerPX
	}
	joint.Labels = append(append(joint.Labels[:0:0], a.Labels...), b.Labels...)
	joint.Points = append(append(joint.Points[:0:0], a.Points...), b.Points...)
	joint.Notes = append(append(joint.Notes[:0:0], a.Notes...), b.Notes...)
	joint.Notes = append(joint.Notes, fmt.Sprintf("scale: the weighted mean of the %s (%s) and the %s (%s)",
		a.inWords(), a.quoted(), b.inWords(), b.quoted()))
	return joint, nil
}

func (m Micro) inWords() string {
	if m.Kind == "known" {
		return "declared value"
	}
	return "drawn " + m.Kind
}

// quoted gives the value with its expanded uncertainty (k = 2), with one digit more than the uncertainty's first.
func (m Micro) quoted() string {
	um, u := 1000*m.MMPerPX, 2000*m.MMPerPX*m.RelU
	decimals := 4
	if u > 0 {
		decimals = max(0, 1-int(math.Floor(math.Log10(u))))
	}
	return fmt.Sprintf("%.*f um/px (± %.*f)", decimals, um, decimals, u)
}
