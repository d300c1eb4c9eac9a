package section

import (
	"fmt"
	"math"

	"crimprule/vision/scale"
	"crimprule/vision/section/raster"
	"crimprule/vision/subpixel"
)

// What a micrograph must bring so that it is measured at all.
const (
	mostBlurMM    = 0.015 // standard deviation of the edge spread: strands' borders and voids are lost in more
	mostBlurPX    = 4     // the same: more than this is a picture out of focus, whatever the magnification
	leastAcross   = 250   // px of the view: root of the section's area
	leastSide     = 100   // px of the picture
	leastAcrossMM = 0.3   // the finest crimps of 0.05 mm² and the largest of 240 mm² lie well within (common practice, no source)
	mostAcrossMM  = 40.
	usualBlurPX   = 1.5  // pictures in focus have up to that
	leastCavity   = 0.1  // of the section's area: strongly pressed crimps have 0.15 and more (common practice, no source)
	leastContrast = 0.04 // of full scale, sleeve against resin
	blurReadings  = 60
	edgeGroup     = 15    // neighbouring profiles that are averaged for one reading of the blur
	mostUneven    = 0.13  // of the sleeve's brightness: strongly etched grains reach 0.09, a ground face 0.17 and more
	mostPitted    = 0.012 // of the sleeve's face: polished ones have up to 0.003, ground ones 0.03
	pitDepth      = 0.4   // of the sleeve's brightness
)

// blur is the median width of the edge between metal and resin, as the standard deviation of a Gaussian, px: the idea
// of ISO 12233, an edge read many times.
func blur(v view, o outline, g ground) (float64, bool) {
	signal := (&outline{sleeve: make([]float64, len(v.tone))}).signal(v, g, o.line)
	normals := raster.Normals(o.line, 3)
	var sigma []float64
	for r := 0; r+edgeGroup <= len(o.line); r += max(len(o.line)/blurReadings, edgeGroup) {
		b := read(o.line[r:r+edgeGroup], normals[r:r+edgeGroup], 40, 1, signal)
		mean := make([]float64, b.cols)
		for i, x := range b.value {
			mean[i%b.cols] += x / edgeGroup
		}
		// A narrow window first; a wide one where the edge fills it.
		for _, reach := range []int{10, 40} {
			mid := b.cols / 2
			e, err := subpixel.FindEdge(mean[mid-reach : mid+reach+1])
			if err == nil && (e.Sigma < float64(reach)/3 || reach == 40) {
				sigma = append(sigma, e.Sigma)
				break
			}
		}
	}
	if len(sigma) < 5 {
		return 0, false
	}
	return subpixel.Percentile(sigma, 50), true
}

// face tells how even the sleeve's polished face is: the robust standard deviation of its brightness from cell to cell, and
// the share of cells in which a pit or a scratch leaves less than half of it. Both as shares of the sleeve's brightness.
func face(g grid) (uneven, pitted float64) {
	var d []float64
	pits := 0
	for i := range g.part.Pix {
		if !g.rim(i) {
			continue
		}
		d = append(d, math.Abs(float64(g.lum.Pix[i])-1))
		if g.valley.Pix[i] > pitDepth {
			pits++
		}
	}
	if len(d) == 0 {
		return 0, 0
	}
	return 1.4826 * middle(d), float64(pits) / float64(len(d))
}

// negative tells whether the picture's tones are turned round: the metal is darker than the resin, and within it lines
// are brighter than their surroundings instead of darker.
func (m metal) negative(v view) bool {
	inside, outside, n, k := 0., 0., 0., 0.
	for i, in := range m.mask.Pix {
		if in {
			inside += float64(v.grey.Pix[i])
			n++
		} else {
			outside += float64(v.grey.Pix[i])
			k++
		}
	}
	if n == 0 || k == 0 || inside/n >= outside/k {
		return false
	}
	dark, bright := 0., 0.
	p := v.grey
	for y := 2; y < p.H-2; y++ {
		for x := 2; x < p.W-2; x++ {
			i := y*p.W + x
			if !m.mask.Pix[i] {
				continue
			}
			for _, d := range []int{2, 2 * p.W} {
				a, b, c := p.Pix[i-d], p.Pix[i], p.Pix[i+d]
				dark += math.Max(0, float64(min(a, c)-b))
				bright += math.Max(0, float64(b-max(a, c)))
			}
		}
	}
	return bright > dark
}

func refuse(format string, args ...any) error {
	return scale.Refusal{Reason: fmt.Sprintf(format, args...)}
}
