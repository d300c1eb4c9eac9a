package drawn

import "math"

// Forms of a sleeve besides the crimped one.
const (
	FormOpen = "open" // not crimped yet: the wings stand up beside the strands
	FormTube = "tube" // a closed tube, pressed flat: a lug or a ferrule, without any seam
)

// formed is the sleeve's distance where it is none that was crimped from two wings.
func (g *geometry) formed(p vec) (float64, stuff) {
	x := clamp(p.X, 0, g.Sleeve.LengthMM)
	h := g.Sleeve.LengthMM / 2
	end := math.Abs(p.X-h) - h
	var in float64
	if g.Sleeve.Form == FormTube {
		in = g.tube(x, p.Y, p.Z)
	} else {
		in = g.channel(x, p.Y, p.Z)
	}
	what := sheet
	if end > in {
		what = sheetEnd
	}
	a, b := in+edgeRound, end+edgeRound
	return hypot(max(a, 0), max(b, 0)) + min(max(a, b), 0) - edgeRound, what
}

// tube is the section of a closed tube with a dent pressed into its top.
func (g *geometry) tube(x, y, z float64) float64 {
	out := g.flare(x)
	round := roundBox(y, z, g.half+out, g.top+out, min(g.half, g.top)*0.97)
	u := (x - g.Sleeve.LengthMM/2) / (g.Sleeve.LengthMM * 0.32)
	if math.Abs(u) < 1 {
		dent := g.top * 0.45 * (1 - smooth(0.75, 1, math.Abs(u)))
		round = max(round, (z-(g.top-dent+0.25*y*y))*0.7)
	}
	return round
}

// channel is the section of an open barrel: a floor and two wings that lean outwards, bevelled at their tips.
func (g *geometry) channel(x, y, z float64) float64 {
	t := g.Sleeve.SheetMM / 2
	w, up := g.half*0.8, g.floor+g.wingMM()
	lean := 0.25 * g.half
	y = math.Abs(y)
	d := segment(y, z, 0, g.floor+t, w-0.4, g.floor+t)
	d = min(d, segment(y, z, w-0.4, g.floor+t, w, g.floor+t+0.5))
	return min(d, segment(y, z, w, g.floor+t+0.5, w+lean, up)) - t
}

// wingMM is how high the wings of an open barrel stand: what they have rolled in afterwards.
func (g *geometry) wingMM() float64 { return g.Sleeve.HeightMM + g.half*0.9 }

// lug is the flat tongue of a lug with its hole, instead of a contact's body.
func (g *geometry) lug(q vec) float64 {
	b := g.Body
	r := b.RadiusMM * 1.5
	middle := b.NeckMM + b.LengthMM - r
	plate := min(roundBox(q.X-middle/2, q.Y, middle/2, r*0.8, 0.3), hypot(q.X-middle, q.Y)-r)
	plate = max(plate, r*0.5-hypot(q.X-middle, q.Y))
	z := math.Abs(q.Z-g.floor*0.4) - g.Sleeve.SheetMM
	return max(plate, z) * 0.9
}
