package photo

import (
	"math"

	"crimprule/vision/subpixel"
)

// section is what a stripe's cross-section shows along its course.
type section struct {
	wide     float64    // contrast at twice a strand's width over that at its width: half for a strand, 1 and more else
	uneven   float64    // difference of the flanks over the contrast: small on one ground, large on an edge
	ahead    float64    // just beyond the tip: 0 the ground is as it is beside the stripe, 1 as on the stripe
	contrast [3]float64 // ln of B, G, R against the mean of both flanks, median
	cut      bool       // the picture ends where the tip should be seen
}

// sectionOf looks at the cross-section of a trail; its last point is the tip.
func (r *relief) sectionOf(t []trailPoint) (s section, ok bool) {
	var narrow, wide, uneven, weight float64
	var contrast, flank [3][]float64
	for k := range t {
		v, ok := r.across(t, k)
		if !ok {
			continue
		}
		for c := range v {
			mid := r.meanOver(v[c], 0, 0.3)
			l, u := r.meanOver(v[c], -1.25, -0.75), r.meanOver(v[c], 0.75, 1.25)
			contrast[c] = append(contrast[c], mid-(l+u)/2)
			flank[c] = append(flank[c], (l+u)/2)
			narrow += smaller(mid, l, u)
			far1, far2 := r.meanOver(v[c], -sectionReach, -1.5), r.meanOver(v[c], 1.5, sectionReach)
			wide += smaller(r.meanOver(v[c], 0, 0.75), far1, far2)
			uneven += math.Abs(l - u)
			weight += math.Abs(mid - (l+u)/2)
		}
	}
	if len(contrast[0]) < 4 || weight == 0 {
		return s, false
	}
	s.wide, s.uneven = wide/math.Max(narrow, 1e-6), uneven/weight
	for c := range contrast {
		s.contrast[c] = subpixel.Percentile(contrast[c], 50)
	}
	s.ahead, s.cut = r.aheadOf(t, contrast, flank)
	return s, true
}

const sectionReach = 2.4 // strand widths to either side

// across samples the cross-section at point k of a trail, one value a pixel from one side to the other.
func (r *relief) across(t []trailPoint, k int) (v [3][]float64, ok bool) {
	half := int(sectionReach*r.strandPX + 0.5)
	a, b := t[max(0, k-2)], t[min(len(t)-1, k+2)]
	l := math.Hypot(b.x-a.x, b.y-a.y)
	nx, ny := -(b.y-a.y)/l, (b.x-a.x)/l
	for c := range v {
		v[c] = make([]float64, 2*half+1)
	}
	for m := -half; m <= half; m++ {
		at, ok := r.index(t[k].x+float64(m)*nx, t[k].y+float64(m)*ny)
		if !ok {
			return v, false
		}
		for c := range v {
			v[c][m+half] = float64(r.ln[c][at])
		}
	}
	return v, true
}

// index is the grid point nearest to a pixel place; ok is false outside the picture.
func (r *relief) index(x, y float64) (at int, ok bool) {
	i, j := int(math.Floor(x+0.5)), int(math.Floor(y+0.5))
	if i < 0 || j < 0 || i >= r.w || j >= r.h {
		return 0, false
	}
	return j*r.w + i, r.inside[j*r.w+i]
}

// meanOver averages a cross-section from..to strand widths off its middle; from 0 it means both sides.
func (r *relief) meanOver(v []float64, from, to float64) float64 {
	if from == 0 {
		from = -to
	}
	half := len(v) / 2
	sum, n := 0.0, 0.0
	for m := -half; m <= half; m++ {
		if f := float64(m) / r.strandPX; f >= from && f <= to {
			sum, n = sum+v[m+half], n+1
		}
	}
	return sum / n
}

// smaller is the smaller of the differences of mid to both flanks, 0 where it lies between them.
func smaller(mid, l, u float64) float64 {
	if (mid-l)*(mid-u) <= 0 {
		return 0
	}
	return math.Min(math.Abs(mid-l), math.Abs(mid-u))
}

// aheadOf compares what lies straight beyond a trail's tip with the stripe and its flanks near there; cut tells that
// the picture ends before.
func (r *relief) aheadOf(t []trailPoint, contrast, flank [3][]float64) (ahead float64, cut bool) {
	const fromMM, toMM, last = 0.35, 0.6, 8
	n := len(t)
	a := t[max(0, n-1-int(0.6*r.ppm/trailStepPX))]
	dx, dy := t[n-1].x-a.x, t[n-1].y-a.y
	l := math.Hypot(dx, dy)
	var along, square float64
	for c := range r.ln {
		on := subpixel.Percentile(contrast[c][max(0, len(contrast[c])-last):], 50)
		off := subpixel.Percentile(flank[c][max(0, len(flank[c])-last):], 50)
		for d := fromMM * r.ppm; d <= toMM*r.ppm; d++ {
			if at, ok := r.index(t[n-1].x+d*dx/l, t[n-1].y+d*dy/l); ok {
				along += (float64(r.ln[c][at]) - off) * on
				square += on * on
			}
		}
	}
	if square == 0 {
		return 0, true
	}
	return along / square, false
}
