package scale

import (
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// BlurPX is the picture's blur as the standard deviation of the edge spread, in pixels, from the printed edges between
// neighbouring corners: the 75th percentile over all that were read, so that blur in one direction (shake) counts. It is
// ISO 12233's idea of reading sharpness off edges, with an error-function model in place of the Fourier transform. ok is
// false where fewer than eight edges could be read. A rule's blur was read off its graduations, along and across. grey is the picture in which the reference was found.
func (r Reference) BlurPX(grey gocv.Mat) (sigma float64, ok bool) {
	if r.blurPX > 0 {
		return r.blurPX, true
	}
	pic, err := newPlane8(grey)
	if err != nil {
		return 0, false
	}
	var all []float64
	step := max(1, len(r.Points)/24)
	for i := 0; i < len(r.Points); i += step {
		p := r.Points[i]
		for _, q := range bothWays(r.Points, i) {
			spacing := math.Hypot(q.X-p.X, q.Y-p.Y)
			if spacing < 8 {
				continue
			}
			if s, ok := pic.edgeSigma(p, q, math.Min(0.3*spacing, 14)); ok {
				all = append(all, s)
			}
		}
	}
	if len(all) < 8 {
		return 0, false
	}
	return subpixel.Percentile(all, 75), true
}

// bothWays are the nearest point and the nearest one that lies across to it, so that edges of both directions are read: a
// shake along one smears the other's only.
func bothWays(points []record.Point, i int) (out []record.Point) {
	var first record.Point
	for _, across := range []bool{false, true} {
		nearest, found := math.Inf(1), record.Point{}
		for k, q := range points {
			dx, dy := q.X-points[i].X, q.Y-points[i].Y
			d := math.Hypot(dx, dy)
			if k == i || d >= nearest || across && math.Abs(dx*first.X+dy*first.Y) > 0.5*d*math.Hypot(first.X, first.Y) {
				continue
			}
			nearest, found = d, q
		}
		if math.IsInf(nearest, 1) {
			return out
		}
		if !across {
			first = record.Point{X: found.X - points[i].X, Y: found.Y - points[i].Y}
		}
		out = append(out, found)
	}
	return out
}

// edgeSigma fits the edge that runs from corner a to corner b, half way between, over reach pixels either side.
func (p plane8) edgeSigma(a, b record.Point, reach float64) (float64, bool) {
	const perPixel = 2
	mx, my := (a.X+b.X)/2, (a.Y+b.Y)/2
	l := math.Hypot(b.X-a.X, b.Y-a.Y)
	ux, uy := (b.X-a.X)/l, (b.Y-a.Y)/l
	n := int(2*reach*perPixel) + 1
	profile := make([]float64, n)
	for i := range profile {
		t := float64(i)/perPixel - reach
		for _, along := range []float64{-0.1 * l, -0.05 * l, 0, 0.05 * l, 0.1 * l} {
			c := pt{mx + along*ux - t*uy, my + along*uy + t*ux}
			if !p.inside(c, 1) {
				return 0, false
			}
			profile[i] += p.at(c) / 5
		}
	}
	e, err := subpixel.FindEdge(profile)
	if err != nil {
		return 0, false
	}
	return e.Sigma / perPixel, true
}
