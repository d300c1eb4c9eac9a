package drawn

import "math"

// Grip is a second pair of wings that holds the insulation behind the sleeve, with the strap of sheet that joins it to the sleeve.
type Grip struct {
	BackMM    float64 // from the insulation's cut to the grip's front edge
	LengthMM  float64
	OpeningMM float64 // between its two tip edges, on top
}

// grip is a lower bound of the distance to the insulation grip and its strap.
func (g *geometry) grip(p vec) float64 {
	k, t := g.Part.Grip, g.Sleeve.SheetMM*0.8
	front := -g.Wire.GapMM - k.BackMM
	r := hypot(p.Y, p.Z)
	ring := math.Abs(r-g.insulation-t/2) - t/2
	if p.Z > 0 {
		ring = max(ring, k.OpeningMM/2-math.Abs(p.Y))
	}
	ring = max(ring, math.Abs(p.X-front+k.LengthMM/2)-k.LengthMM/2)
	// The strap climbs from under the insulation to the sleeve's floor.
	u := smooth(front, 0.1, p.X)
	low := -g.insulation - t + (g.floor+g.insulation+t)*u
	strap := roundBox(p.Y, p.Z-low-t/2, g.half*0.62, t/2, 0.1)
	strap = max(strap, math.Abs(p.X-(front-0.3+0.3)/2)-(0.6-front)/2)
	return min(ring, strap*0.55)
}

func (g *geometry) gripBox() box {
	k := g.Part.Grip
	r := g.insulation + g.Sleeve.SheetMM
	return box{vec{-g.Wire.GapMM - k.BackMM - k.LengthMM, -r, -r}, vec{0.4, r, r}}
}
