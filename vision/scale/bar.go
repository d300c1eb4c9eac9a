package scale

import (
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
	"crimprule/vision/record"
)

// What the person is told where no bar can be used.
const (
	noBar = "no scale bar was found: burn a bar into the picture, keep it clear of the section, or give the scale with " +
		"--scale known=2.05um/px"
	twoBars = "two things in the picture look like its scale bar, one %.1f px long and one %.1f px: burn in only one bar, or give the " +
		"scale with --scale known=2.05um/px"
)

// Bar finds the scale bar that was drawn into a micrograph, an upright 8-bit grey picture, and gives the scale from its
// declared length in mm. The bar may be lighter or darker than what surrounds it, lie in a box or not, have end ticks or
// not, and stand level or upright. Its length runs from outer end to outer end, ticks included.
//
// Each end is where the grey values along the bar, summed up, place the step between the bar's tone and that beyond its
// end: exact for a bar drawn with partly covered pixels, and unbiased under any even blur. RelU holds the scatter of the ends
// from row to row and what the drawing software may have rounded: each end by half a pixel where both lie on pixel
// borders or are too soft to tell. That the bar itself was drawn to the right length is taken as given: a bar is only as
// good as the calibration behind it (ASTM E1951).
//
// The error is a Refusal where there is no bar, or more than one and they differ.
func Bar(grey gocv.Mat, lengthMM float64) (Micro, error) {
	if grey.Empty() || grey.Type() != gocv.MatTypeCV8UC1 {
		return Micro{}, fmt.Errorf("the scale bar is looked for in an 8-bit grey picture, not in one of type %v", grey.Type())
	}
	pic, err := newPlane8(grey)
	if err != nil {
		return Micro{}, err
	}
	found, err := oneBar(pic, false)
	if err != nil {
		return Micro{}, err
	}
	if found != nil {
		return found.micro(lengthMM), nil
	}
	// Upright bars are rare: only where there is no level one.
	turned := gocv.NewMat()
	defer turned.Close()
	if err := cvx.Transpose(grey, &turned); err != nil {
		return Micro{}, err
	}
	if pic, err = newPlane8(turned); err != nil {
		return Micro{}, err
	}
	if found, err = oneBar(pic, true); err != nil {
		return Micro{}, err
	}
	if found == nil {
		return Micro{}, Refusal{Reason: noBar}
	}
	return found.micro(lengthMM).transposed(), nil
}

// oneBar gives the one level bar of a picture, nil where there is none. Upright says that the picture was transposed.
func oneBar(pic plane8, upright bool) (*drawnBar, error) {
	bars := withoutFrames(pic, withoutGrounds(pic.bars()))
	var fit []*drawnBar
	labelled := false
	for i := range bars {
		b := &bars[i]
		b.upright = upright
		b.findLabel(pic)
		if !b.isLetter && (b.labelled || b.flawless()) {
			fit = append(fit, b)
			labelled = labelled || b.labelled
		}
	}
	var best *drawnBar
	for _, b := range fit { // text makes a bar, where any has some
		if b.labelled == labelled && (best == nil || b.contrast > best.contrast) {
			best = b
		}
	}
	for _, b := range fit {
		if b.labelled == labelled && math.Abs(b.lengthPX()-best.lengthPX()) > math.Max(1, 0.005*best.lengthPX()) {
			return nil, Refusal{Reason: fmt.Sprintf(twoBars, best.lengthPX(), b.lengthPX())}
		}
	}
	return best, nil
}

// roundingPX is the standard uncertainty of a length of which each end was rounded to a whole pixel: two rectangular
// distributions of half a pixel each way (JCGM 100:2008, 4.3.7).
var roundingPX = math.Sqrt(2. / 12)

// blendingPX is the same for ends drawn with partly covered pixels. Common practice, no source: such pixels are mixed in
// proportion, and whatever else a program does to them moves an end by a few hundredths.
const blendingPX = 0.05

func (b *drawnBar) lengthPX() float64 { return b.right.at - b.left.at }

// micro is the scale that follows from the bar.
func (b *drawnBar) micro(lengthMM float64) Micro {
	convention := roundingPX
	if b.left.blended() || b.right.blended() {
		convention = blendingPX
	}
	u := math.Sqrt(b.left.u*b.left.u + b.right.u*b.right.u + convention*convention)
	y := (b.top + b.bottom) / 2
	return Micro{
		Kind:    "bar",
		MMPerPX: lengthMM / b.lengthPX(),
		RelU:    u / b.lengthPX(),
		Labels:  [][]record.Point{b.label.outline()},
		Points:  []record.Point{{X: b.left.at, Y: y}, {X: b.right.at, Y: y}},
	}
}

// transposed turns what was found in a transposed picture back.
func (m Micro) transposed() Micro {
	for i := range m.Points {
		m.Points[i] = record.Point{X: m.Points[i].Y, Y: m.Points[i].X}
	}
	for _, label := range m.Labels {
		for i := range label {
			label[i] = record.Point{X: label[i].Y, Y: label[i].X}
		}
	}
	return m
}

// withoutGrounds drops the strips of a box above and below a bar, which look like bars of the other tone: the bar is
// the shorter one of two that touch.
func withoutGrounds(bars []drawnBar) []drawnBar {
	var kept []drawnBar
	for _, a := range bars {
		ground := false
		for _, b := range bars {
			touching := a.top < b.bottom+2 && b.top < a.bottom+2
			ground = ground || a.sign != b.sign && touching && a.lengthPX() > b.lengthPX()
		}
		if !ground {
			kept = append(kept, a)
		}
	}
	return kept
}

// withoutFrames drops the two lines of a box's frame, which look like two bars: equal lines one above the other that
// hold another bar between them or are joined at their ends.
func withoutFrames(pic plane8, bars []drawnBar) []drawnBar {
	drop := make([]bool, len(bars))
	for i := range bars {
		for j := range bars {
			a, b := &bars[i], &bars[j]
			if a.bottom >= b.top || math.Abs(a.left.at-b.left.at) > 3 || math.Abs(a.right.at-b.right.at) > 3 {
				continue
			}
			framed := pic.joined(a, b)
			for k := range bars {
				c := &bars[k]
				framed = framed || c.top > a.bottom && c.bottom < b.top && c.left.at > a.left.at && c.right.at < a.right.at
			}
			if framed {
				drop[i], drop[j] = true, true
			}
		}
	}
	kept := bars[:0]
	for i, b := range bars {
		if !drop[i] {
			kept = append(kept, b)
		}
	}
	return kept
}

// joined tells whether two lines are joined by lines of their tone at both ends.
func (p plane8) joined(a, b *drawnBar) bool {
	for _, column := range [2][2]int{{int(math.Round(a.left.at)), 1}, {int(math.Round(a.right.at)), -1}} {
		best := 0.
		for k := range 4 { // px into the line
			x, same, n := column[0]+k*column[1], 0, 0
			for y := int(math.Ceil(a.bottom)); y <= int(b.top); y++ {
				n++
				if math.Abs(float64(p.v[y*p.w+x])-a.tone) < a.contrast/2 {
					same++
				}
			}
			best = math.Max(best, float64(same)/math.Max(float64(n), 1))
		}
		if best < 0.8 {
			return false
		}
	}
	return true
}
