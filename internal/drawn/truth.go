package drawn

import (
	"math"
	"slices"

	"crimprule/vision/record"
)

// Truth is what is true of a drawn picture.
type Truth struct {
	Values   map[record.Key]float64 // millimetres, degrees, ratios, as the keys say
	Declared record.Declared        // what a user may tell the program
	Aid      Aid                    // where things lie in the picture, for people and for tests of this package
}

// Aid tells where things lie in the picture, in pixels; (0, 0) is the centre of the top left one.
type Aid struct {
	PXPerMM      float64        `json:"px_per_mm"` // along the axis at the middle of the sleeve
	AxisHeightMM float64        `json:"axis_height_mm"`
	BoardHeight  float64        `json:"board_height_mm"`
	RollDeg      float64        `json:"roll_deg"`
	PitchDeg     float64        `json:"pitch_deg"`
	Camera       [3]float64     `json:"camera_mm"` // the lens in the world
	OutlineLeft  [][2]float64   `json:"outline_left"`
	OutlineRight [][2]float64   `json:"outline_right"`
	SeamLeft     [][2]float64   `json:"seam_left"`
	SeamRight    [][2]float64   `json:"seam_right"`
	RearEdge     [][2]float64   `json:"rear_edge"`
	FrontEdge    [][2]float64   `json:"front_edge"`
	Cut          [][2]float64   `json:"insulation_cut"`
	Tips         [][2]float64   `json:"brush_tips_visible"`
	Strays       [][][2]float64 `json:"strays"`
	BodyAxis     [][2]float64   `json:"body_axis"`
	Corners      [][2]float64   `json:"board_corners"`

	// Of varied scenes only: marks on the scale reference, in the picture and in the world, and the whole camera.
	Reference   [][2]float64 `json:"reference_points,omitempty"`
	ReferenceMM [][3]float64 `json:"reference_points_mm,omitempty"`
	Lens        *Pinhole     `json:"camera,omitempty"`
	PoseDeg     *[3]float64  `json:"part_alpha_roll_pitch_deg,omitempty"`
}

// Pinhole is the camera as p = R·(w - position), (x, y) = (p.X, p.Y)/p.Z, r² = x²+y², px = c + f·(x, y)·(1 + k1·r²).
type Pinhole struct {
	R        [3][3]float64 `json:"R"`
	Position [3]float64    `json:"position"`
	FocalPX  float64       `json:"f_px"`
	CX       float64       `json:"cx"`
	CY       float64       `json:"cy"`
	K1       float64       `json:"k1"`
}

// referenceAid adds the scale reference's marks and the camera.
func (a *Aid) referenceAid(s Scene, l lens) {
	var marks []vec
	switch {
	case s.Rule != nil:
		marks = s.Rule.edge()
	case s.Disc != nil:
		marks = s.Disc.rim()
	case !s.Board.None:
		marks = s.Board.corners()
	}
	for _, w := range marks {
		x, y := l.project(w)
		a.Reference = append(a.Reference, [2]float64{math.Round(x*1000) / 1000, math.Round(y*1000) / 1000})
		a.ReferenceMM = append(a.ReferenceMM, triple(w))
	}
	a.Lens = &Pinhole{[3][3]float64{triple(l.axes.X), triple(l.axes.Y), triple(l.axes.Z)}, triple(l.at), l.f, l.cx, l.cy, l.k1}
	a.PoseDeg = &[3]float64{s.Part.AlphaDeg, s.Part.RollDeg, s.Part.PitchDeg}
}

// stations is the number of places along the sleeve or across the conductor at which the geometry is evaluated.
const stations = 2001

// outOfLine is the contract's 0.15 mm beyond which a tip edge counts as missing.
const outOfLine = 0.15

func (s Scene) truth(g *geometry, l lens) Truth {
	t := s.partTruth(g, l)
	if s.Second != nil || s.Part.Sleeve.Form != "" {
		t.Values = map[record.Key]float64{} // there is nothing that could be measured
	}
	if s.View != "" {
		t.Aid.referenceAid(s, l)
	}
	return t
}

func (s Scene) partTruth(g *geometry, l lens) Truth {
	t := Truth{Values: map[record.Key]float64{}}
	w := g.Wire
	t.Declared = record.Declared{ConductorArea: w.AreaMM2, StrandCount: float64(w.Strands), StrandDiameter: w.StrandDiameterMM,
		InsulationDiameter: w.InsulationDiameterMM, SheetThickness: g.Sleeve.SheetMM}
	v := t.Values
	switch {
	case g.Strip != nil:
		g.stripTruth(v)
		t.Aid = g.stripAid(l, s.Board)
		return t
	case s.View == record.Side:
		g.sideTruth(v)
	default:
		g.gapTruth(v)
		g.brushTruth(v)
		g.seamTruth(v)
		g.wingTruth(v)
		v[record.Bend] = math.Abs(g.Body.BendDeg)
	}
	v[record.StrayCount], v[record.StrayLongest] = float64(len(g.strays)), 0
	for _, c := range g.strays {
		v[record.StrayLongest] = max(v[record.StrayLongest], c.length())
	}
	v[record.SleeveLength] = g.Sleeve.LengthMM
	v[record.BellmouthLength], v[record.BellmouthFlare] = g.Sleeve.BellmouthMM, g.flare(0)
	t.Aid = g.aid(l, s.Board)
	if s.View == record.Side {
		g.sideAid(l, &t.Aid)
	}
	return t
}

// gapTruth measures from the visible cut end to the sleeve's rear edge at x = 0, over the middle 80 % of the
// conductor's width. Seen from above, the conductor hides the cut face below its own surface.
func (g *geometry) gapTruth(v map[record.Key]float64) {
	var gaps []float64
	sum := 0.0
	for i := range stations {
		y := 0.8 * g.conductor * (2*float64(i)/(stations-1) - 1)
		gap := -g.visibleCut(y)
		gaps, sum = append(gaps, gap), sum+gap
	}
	slices.Sort(gaps)
	v[record.InsulationGapMean] = sum / stations
	v[record.InsulationGapMax] = gaps[(stations-1)*95/100]
}

// visibleCut is the foremost x of the cut face on the scan line y that the conductor does not hide.
func (g *geometry) visibleCut(y float64) float64 {
	low := 0.0
	if c := g.conductor; math.Abs(y) < c {
		low = math.Sqrt(c*c-y*y) * g.squash(g.cut(y, 0))
	}
	high := math.Sqrt(max(0, g.insulation*g.insulation-y*y))
	best := math.Inf(-1)
	for i := range 40 {
		best = max(best, g.cut(y, low+(high-low)*float64(i)/39))
	}
	return best
}

// brushTruth takes the strands whose tips can be seen from straight above.
func (g *geometry) brushTruth(v map[record.Key]float64) { g.brushValues(v, g.seenFromAbove) }

func (g *geometry) brushValues(v map[record.Key]float64, seen func(int) bool) {
	low, high, sum, n := math.Inf(1), 0.0, 0.0, 0
	for i := range g.brush {
		if !seen(i) {
			continue
		}
		out := g.pastFront(i)
		low, high, sum, n = min(low, out), max(high, out), sum+out, n+1
	}
	if n == 0 {
		v[record.BrushMean], v[record.BrushMax], v[record.BrushMin] = 0, 0, 0
		return
	}
	v[record.BrushMean], v[record.BrushMax], v[record.BrushMin] = sum/float64(n), high, low
}

// pastFront is how far the foremost point of a strand's flat end stands before the sleeve's front edge.
func (g *geometry) pastFront(i int) float64 {
	s := g.brush[i]
	r := g.Wire.StrandDiameterMM / 2
	return s.tip().X + r*math.Sqrt(1-s.dir.X*s.dir.X) - g.Sleeve.LengthMM
}

// seenFromAbove tells whether no other strand lies over the middle of this one's end.
func (g *geometry) seenFromAbove(i int) bool {
	tip := g.brush[i].tip()
	r := g.Wire.StrandDiameterMM / 2
	for j, o := range g.brush {
		t := (tip.X - o.from.X) / o.dir.X
		if j == i || t < 0 || t > o.length {
			continue
		}
		at := o.from.add(o.dir.mul(t))
		if at.Z > tip.Z && math.Abs(at.Y-tip.Y) < r {
			return false
		}
	}
	return true
}

// seamTruth evaluates wing widths, symmetry, seam and the sleeve's width.
func (g *geometry) seamTruth(v map[record.Key]float64) {
	var xs, mids, widths []float64
	var left, right float64
	open := 0.0
	for i := range stations {
		x := g.Sleeve.LengthMM * float64(i) / (stations - 1)
		l, r := g.tips(x)
		edge := g.half + g.flare(x)
		widths = append(widths, 2*edge)
		open = max(open, l-r)
		if x < g.Sleeve.BellmouthMM {
			continue
		}
		left, right = left+edge-l, right+edge+r
		xs, mids = append(xs, x), append(mids, (l+r)/2)
	}
	n := float64(len(xs))
	left, right = left/n, right/n
	offset := 0.0
	for _, m := range mids {
		offset += m / n
	}
	slices.Sort(widths)
	slope, _ := fitLine(xs, mids)
	v[record.SleeveWidth] = widths[stations/2]
	v[record.WingWidthLeft], v[record.WingWidthRight] = left, right
	v[record.Symmetry] = min(left, right) / max(left, right)
	v[record.SeamOffset], v[record.SeamAngle] = offset, math.Abs(math.Atan(slope))*180/math.Pi
	v[record.SeamOpeningMax] = open
}

// wingTruth evaluates completeness and the largest missing piece: how far each tip edge stands behind its own line.
func (g *geometry) wingTruth(v map[record.Key]float64) {
	var xs, left, right []float64
	for i := range stations {
		x := g.Sleeve.LengthMM * float64(i) / (stations - 1)
		l, r := g.tips(x)
		xs, left, right = append(xs, x), append(left, l), append(right, -r)
	}
	step := g.Sleeve.LengthMM / (stations - 1)
	longest, deepest := 0.0, 0.0
	measure := func(edge []float64) float64 {
		slope, base := robustLine(xs, edge)
		inside, run := 0, 0
		for i, x := range xs {
			behind := edge[i] - base - slope*x
			if math.Abs(behind) <= outOfLine {
				inside++
			}
			if behind <= outOfLine {
				run = 0
				continue
			}
			run++
			longest, deepest = max(longest, float64(run)*step), max(deepest, behind)
		}
		return float64(inside) / float64(len(xs))
	}
	v[record.CompletenessLeft], v[record.CompletenessRight] = measure(left), measure(right)
	v[record.MissingLengthMax], v[record.MissingDepthMax] = longest, deepest
}

// fitLine is the least-squares line y = base + slope·x.
func fitLine(x, y []float64) (slope, base float64) {
	n := float64(len(x))
	var sx, sy, sxx, sxy float64
	for i := range x {
		sx, sy, sxx, sxy = sx+x[i], sy+y[i], sxx+x[i]*x[i], sxy+x[i]*y[i]
	}
	slope = (n*sxy - sx*sy) / (n*sxx - sx*sx)
	return slope, (sy - slope*sx) / n
}

// robustLine starts from the edge's median and the median of its slopes and then fits what lies within outOfLine.
func robustLine(x, y []float64) (slope, base float64) {
	half := len(x) / 2
	var slopes, bases []float64
	for i := range half {
		slopes = append(slopes, (y[i+half]-y[i])/(x[i+half]-x[i]))
	}
	slices.Sort(slopes)
	slope = slopes[len(slopes)/2]
	for i := range x {
		bases = append(bases, y[i]-slope*x[i])
	}
	slices.Sort(bases)
	base = bases[len(bases)/2]
	for range 6 {
		var u, v []float64
		for i := range x {
			if math.Abs(y[i]-base-slope*x[i]) <= outOfLine {
				u, v = append(u, x[i]), append(v, y[i])
			}
		}
		if len(u) < 3 {
			break
		}
		slope, base = fitLine(u, v)
	}
	return slope, base
}

// aid projects the part's edges into the picture.
func (g *geometry) aid(l lens, b Board) Aid {
	see := func(p vec) [2]float64 { return g.see(l, p) }
	long := g.Sleeve.LengthMM
	a := Aid{AxisHeightMM: g.AxisMM, BoardHeight: b.HeightMM, RollDeg: g.RollDeg, PitchDeg: g.PitchDeg,
		Camera: [3]float64{l.at.X, l.at.Y, l.at.Z}, Strays: [][][2]float64{}, Tips: [][2]float64{}, Corners: [][2]float64{}}
	p, q := see(vec{long/2 - 1, 0, 0}), see(vec{long/2 + 1, 0, 0})
	a.PXPerMM = hypot(p[0]-q[0], p[1]-q[1]) / 2
	for i := range 41 {
		x := long * float64(i) / 40
		edge := g.half + g.flare(x)
		left, right := g.tips(x)
		// The side walls are straight: their upper end, where a shoulder begins, is what a tilted view sees first.
		side := g.top - g.shoulder(g.half)
		a.OutlineLeft = append(a.OutlineLeft, see(vec{x, edge, side}))
		a.OutlineRight = append(a.OutlineRight, see(vec{x, -edge, side}))
		a.SeamLeft = append(a.SeamLeft, see(vec{x, left, side}))
		a.SeamRight = append(a.SeamRight, see(vec{x, right, side}))
		y := g.half * 0.9 * (1 - float64(i)/20)
		a.RearEdge = append(a.RearEdge, see(vec{0, y, g.crown(0, y)}))
		a.FrontEdge = append(a.FrontEdge, see(vec{long, y, g.crown(long, y)}))
		y = g.insulation * 0.98 * (1 - float64(i)/20)
		z := math.Sqrt(g.insulation*g.insulation - y*y)
		a.Cut = append(a.Cut, see(vec{g.cut(y, z), y, z}))
	}
	for i := range g.brush {
		if g.seenFromAbove(i) {
			a.Tips = append(a.Tips, see(g.brush[i].tip()))
		}
	}
	for _, c := range g.strays {
		var line [][2]float64
		for _, p := range c.points {
			line = append(line, see(p))
		}
		a.Strays = append(a.Strays, line)
	}
	s, c := g.bendSin, g.bendCos
	for _, x := range [2]float64{g.Body.NeckMM, g.Body.NeckMM + g.Body.LengthMM} {
		a.BodyAxis = append(a.BodyAxis, see(vec{long + x*c*g.riseCos, x * s * g.riseCos, x * g.riseSin}))
	}
	a.Corners = boardCorners(l, b)
	return a
}

// see gives the pixel in which a place of the part frame is seen, to a hundredth.
func (g *geometry) see(l lens, p vec) [2]float64 {
	x, y := l.project(g.origin.add(g.pose.out(p)))
	return [2]float64{math.Round(x*100) / 100, math.Round(y*100) / 100}
}

// boardCorners are the board's inner corners in the picture, to a thousandth of a pixel.
func boardCorners(l lens, b Board) [][2]float64 {
	all := [][2]float64{}
	if !b.None {
		for _, w := range b.corners() {
			x, y := l.project(w)
			all = append(all, [2]float64{math.Round(x*1000) / 1000, math.Round(y*1000) / 1000})
		}
	}
	return all
}

// crown is the height of the sleeve's surface at (x, y).
func (g *geometry) crown(x, y float64) float64 {
	lo, hi := g.floor, g.top+1
	for range 40 {
		mid := (lo + hi) / 2
		// Above the surface everything is outside; below the crown the outline is entered at the latest at its shoulder.
		if g.profile(x, y, mid) > 0 {
			hi = mid
		} else {
			lo = mid
		}
	}
	return lo
}
