package drawn

import (
	"math"
	"slices"

	"crimprule/vision/record"
)

// sideways is the direction, in the part frame, from which a part that lies on its side is seen from straight above.
func (g *geometry) sideways() float64 {
	if g.RollDeg < 0 {
		return -1
	}
	return 1
}

// sideTruth evaluates what differs from the seam view: the scan lines are stacked along z, tips are those seen from the side
// that lies up, and the sleeve's width is the crimp's height.
func (g *geometry) sideTruth(v map[record.Key]float64) {
	var gaps, heights []float64
	sum, high := 0.0, 0.8*g.conductor*g.squash(g.cut(0, 0)/2)
	for i := range stations {
		gap := -g.visibleCutAside(high * (2*float64(i)/(stations-1) - 1))
		gaps, sum = append(gaps, gap), sum+gap
		x := g.Sleeve.LengthMM * float64(i) / (stations - 1)
		heights = append(heights, g.top-g.floor+2*g.flare(x))
	}
	slices.Sort(gaps)
	slices.Sort(heights)
	v[record.InsulationGapMean], v[record.InsulationGapMax] = sum/stations, gaps[(stations-1)*95/100]
	v[record.SleeveWidth] = heights[stations/2]
	// The body's axis as it looks in the plane of the sleeve's axis and height.
	v[record.Bend] = math.Abs(math.Atan2(g.riseSin, g.riseCos*g.bendCos)) * 180 / math.Pi
	g.brushValues(v, g.seenFromAside)
}

// visibleCutAside is the foremost x of the cut face at the height z that the conductor does not hide from the side.
func (g *geometry) visibleCutAside(z float64) float64 {
	low, tall := 0.0, g.conductor*g.squash(g.cut(0, z))
	if math.Abs(z) < tall {
		low = g.conductor * math.Sqrt(1-z*z/(tall*tall))
	}
	high := math.Sqrt(max(0, g.insulation*g.insulation-z*z))
	best := math.Inf(-1)
	for i := range 40 {
		best = max(best, g.cut(g.sideways()*(low+(high-low)*float64(i)/39), z))
	}
	return best
}

// seenFromAside tells whether nothing of the part stands between this strand's end and the side that lies up: neither other
// strands nor the neck.
func (g *geometry) seenFromAside(i int) bool {
	s := g.brush[i]
	from := s.tip().add(s.dir.mul(0.03))
	_, what := g.march(from, vec{0, g.sideways(), 0}, math.Inf(1))
	return what == nothing
}

// upright draws a stray strand that leaves the part upwards or downwards, to be seen from its side: TipHeight counts along y.
func (g *geometry) upright(s Stray) curve {
	a, r := radians(s.RootDeg), g.conductor-s.DiameterMM/2
	way, past := 1.0, g.top+g.Sleeve.BellmouthFlareMM
	if !s.Left {
		way, past = -1, -g.floor+g.Sleeve.BellmouthFlareMM
	}
	x0, along := g.cut(0, 0)/2, s.AlongMM
	root := vec{x0, r * math.Sin(a), way * r * math.Cos(a) * g.squash(x0)}
	if s.Back {
		past, along = g.insulation, -along
	}
	p1, p2 := root.add(vec{0, 0.3 * math.Sin(a), way * 0.8}), vec{x0, root.Y + 0.3*s.TipHeight, way * (past + 0.35)}
	if s.Front { // the neck is open upwards only
		way, past, x0 = 1, g.top, g.Sleeve.LengthMM
		root = vec{x0, g.half * 0.3 * math.Sin(a), g.fill - 0.1}
		p1, p2 = root.add(vec{0.7, 0, 0.4}), vec{x0 + 0.9, root.Y, past + 0.2}
		along = s.AlongMM
	}
	return cubic(s.DiameterMM/2, root, p1, p2, vec{x0 + along, root.Y + s.TipHeight, way * (past + s.ReachMM)})
}

// sideAid projects the edges that are seen from the side.
func (g *geometry) sideAid(l lens, a *Aid) {
	long, y := g.Sleeve.LengthMM, g.sideways()*g.half
	a.OutlineLeft, a.OutlineRight, a.SeamLeft, a.SeamRight, a.RearEdge, a.FrontEdge, a.Cut, a.Tips = nil, nil, nil, nil, nil, nil, nil, [][2]float64{}
	for i := range 41 {
		t := float64(i) / 40
		x := long * t
		a.OutlineLeft = append(a.OutlineLeft, g.see(l, vec{x, 0.5 * y, g.top + g.flare(x)}))
		a.OutlineRight = append(a.OutlineRight, g.see(l, vec{x, 0.9 * y, g.floor - g.flare(x)}))
		z := g.floor + (g.top-g.floor)*t
		a.RearEdge, a.FrontEdge = append(a.RearEdge, g.see(l, vec{0, y, z})), append(a.FrontEdge, g.see(l, vec{long, y, z}))
		z = g.insulation * 0.98 * (1 - 2*t)
		w := g.sideways() * math.Sqrt(g.insulation*g.insulation-z*z)
		a.Cut = append(a.Cut, g.see(l, vec{g.cut(w, z), w, z}))
	}
	for i := range g.brush {
		if g.seenFromAside(i) {
			a.Tips = append(a.Tips, g.see(l, g.brush[i].tip()))
		}
	}
}
