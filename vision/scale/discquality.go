package scale

import (
	"math"
	"slices"

	"crimprule/vision/subpixel"
)

// rimBlur is the picture's blur, as the standard deviation of the edge spread in px, from the edges along a disc's rim. The
// side wall and the broken edge widen some of them and the directions differ where the picture was shaken, so it is the
// sharper third of the edges of each direction, of four, that counts, and of these the worst direction. 0 where
// too few edges stand alone.
func (p colours) rimBlur(r rim) float64 {
	const directions, each = 4, 30
	var by [directions][]float64
	for _, q := range thinned(r.used, directions*each) {
		if s, ok := p.spreadAt(q); ok {
			turn := math.Mod(math.Atan2(q.n.y, q.n.x)+2*math.Pi, math.Pi)
			k := int(turn/math.Pi*directions+0.5) % directions
			by[k] = append(by[k], s)
		}
	}
	worst := 0.
	for _, v := range by {
		if len(v) >= 5 {
			worst = math.Max(worst, subpixel.Percentile(v, 33))
		}
	}
	return worst
}

func thinned(all []rimPoint, most int) []rimPoint {
	step := (len(all) + most - 1) / most
	var out []rimPoint
	for i := 0; i < len(all); i += step {
		out = append(out, all[i])
	}
	return out
}

// spreadAt is the spread of the edge at a place of the rim; false where it does not stand alone.
func (p colours) spreadAt(q rimPoint) (sigma float64, ok bool) {
	const reach, perPixel = 10, 2
	side := pt{-q.n.y, q.n.x}
	if !p.inside(q.p, 1.5*reach) {
		return 0, false
	}
	var profile [3][]float64
	for i := -reach * perPixel; i <= reach*perPixel; i++ {
		var v [3]float64
		for _, s := range [3]float64{-1.3, 0, 1.3} {
			p.add(q.p.add(q.n.mul(float64(i)/perPixel)).add(side.mul(s)), &v)
		}
		for c := range v {
			profile[c] = append(profile[c], v[c]/3)
		}
	}
	steps := [3]float64{}
	for c, v := range profile {
		steps[c] = v[len(v)-1] - v[0]
	}
	e, err := subpixel.FindEdge(profile[strongest(steps)])
	const least, rough = 12, 0.06
	if err != nil || math.Abs(e.Step) < least || e.SD > rough*math.Abs(e.Step) || math.Abs(e.Pos-reach*perPixel) > 3*perPixel {
		return 0, false
	}
	return e.Sigma / perPixel, true
}

// tonesAt are the brightness of a disc's face and of the ground round it, the lighter one first: medians, read well off
// the rim.
func (p colours) tonesAt(e ellipse) (light, dark float64) {
	var tones [2]float64
	for k, share := range [2]float64{0.8, 1.3} {
		var v []float64
		for i := range 180 {
			at, _ := ellipse{e.c, e.a * share, e.b * share, e.turn}.at(float64(i) * math.Pi / 90)
			if !p.inside(at, 1) {
				continue
			}
			var sum [3]float64
			p.add(at, &sum)
			v = append(v, 0.114*sum[0]+0.587*sum[1]+0.299*sum[2]) // ITU-R BT.601's luma, as the grey picture has it
		}
		slices.Sort(v)
		if len(v) > 0 {
			tones[k] = v[len(v)/2]
		}
	}
	return math.Max(tones[0], tones[1]), math.Min(tones[0], tones[1])
}
