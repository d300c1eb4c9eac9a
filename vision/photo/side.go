package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// Side measures a part that lies on its side, seen along the sheet, and fills the record. Which way the sleeve is open is
// told from the picture: towards either side of the axis.
//
// The camera faces the outer face of one side wall, a flat strip half the sleeve's width above the axis, between the
// floor's corner on one side and the crown of a hump on the other. Ends along x are read on that strip; the sleeve's
// height is that of the silhouette.
func Side(subject Subject, rec *record.Record) {
	b := newBench(subject, rec)
	defer b.show("measured strip")
	s, why := b.findProfile()
	if why != "" {
		rec.Refuse(why)
		return
	}
	b.crimpHeight(s)
	b.sideGap(s)
	b.bellmouth(s)
	b.sideBrush(s)
	b.bend(s)
	b.strays(s)
	for _, key := range record.Keys(record.Side) {
		rec.Miss(key, "it could not be told in this picture")
	}
}

const (
	noRegions = "the sleeve cannot be told from its surroundings: lay the contact on its side on a plain ground whose colour differs " +
		"from the metal's, in soft light"
	noSideEnd = "the sleeve's ends cannot be seen: lay the part free, on its side, and take the picture from straight above"
)

// findProfile finds the sleeve's silhouette, turns the frame so that x runs along its middle, finds it again there, and then
// the sleeve's ends. why says what the person can do where that fails.
func (b *bench) findProfile() (s sleeve, why string) {
	if b.part.Regions == nil {
		return s, noRegions
	}
	rear, front := b.part.RearX, b.part.FrontX
	for round := range 2 {
		lo, hi, ok := b.regionSpan(rear+bellClearMM, front-frontClearMM)
		if !ok {
			return s, noRegions
		}
		if s.left, s.right, ok = b.silhouette(rear, front, lo, hi); !ok {
			return s, noSides
		}
		var turn float64
		if turn, s.uAxis = middleTurn(s.left, s.right); round == 0 {
			b.frame = b.frame.Moved(0, s.middle(0), turn)
			b.resample()
		}
	}
	s.left, s.right = s.left.levelled(), s.right.levelled()
	s.seam.line = subpixel.Line{Mid: subpixel.Point{X: (rear + front) / 2, Y: s.middle((rear + front) / 2)}, Dir: subpixel.Point{X: 1}}
	b.body = newSideModel(b.declared, b.part.WireMM)
	if !b.profileEnds(&s, b.openSide(s)) {
		return s, noSideEnd
	}
	b.markOutline(s.left, s.rearX, s.frontX)
	b.markOutline(s.right, s.rearX, s.frontX)
	return s, ""
}

// middle is halfway between both sides at x.
func (s sleeve) middle(x float64) float64 { return (s.left.at(x) + s.right.at(x)) / 2 }

// middleTurn is the direction (radians) of the line halfway between both sides, with its standard uncertainty. A side whose
// border hardly stands out counts little.
func middleTurn(l, r outline) (turn, u float64) {
	const parallel = 0.25 * math.Pi / 180 // how far a side may be from parallel to the axis
	var w, sum float64
	for _, o := range []outline{l, r} {
		n := len(o.borders)
		length := o.borders[n-1].X - o.borders[0].X
		k := 1 / (sq(o.line.UAngle) + sq(parallel) + sq(o.u*math.Sqrt(12)/length))
		w, sum = w+k, sum+k*math.Atan2(o.line.Dir.Y, o.line.Dir.X)
	}
	return sum / w, 1 / math.Sqrt(w)
}

// regionSpan is from where to where across the sleeve's region reaches, by the median over columns of x0..x1.
func (b *bench) regionSpan(x0, x1 float64) (lo, hi float64, ok bool) {
	const step, reach = 0.05, 4.0
	var los, his []float64
	for x := x0; x <= x1; x += 0.25 {
		l, h, start, in := 0.0, 0.0, 0.0, false
		for y := -reach; y <= reach+step; y += step {
			is := y <= reach && b.part.Regions.At(part.Sleeve, b.frame, x, y) > 0.5
			if is && !in {
				start = y
			}
			if !is && in && y-start > h-l {
				l, h = start, y
			}
			in = is
		}
		if h > l {
			los, his = append(los, l-step/2), append(his, h-step/2)
		}
	}
	if len(los) < 6 {
		return 0, 0, false
	}
	return subpixel.Percentile(los, 50), subpixel.Percentile(his, 50), true
}

// openSide tells to which side the sleeve is open: past its front the neck goes on along the floor, on the other side only.
func (b *bench) openSide(s sleeve) side {
	half := (s.left.at(b.part.FrontX) - s.right.at(b.part.FrontX)) / 2
	sum, mid := 0.0, s.middle(b.part.FrontX)
	for x := b.part.FrontX + 0.4; x < b.part.FrontX+1.8; x += 0.1 {
		for d := 0.1; d < half; d += 0.1 {
			sum += b.part.Regions.At(part.Body, b.frame, x, mid+d) - b.part.Regions.At(part.Body, b.frame, x, mid-d)
		}
	}
	if sum > 0 {
		return right
	}
	return left
}

// silhouette finds both sides of the sleeve near where its region ends, lo < hi across.
func (b *bench) silhouette(rear, front, lo, hi float64) (l, r outline, ok bool) {
	x0, x1 := rear+bellClearMM, front-frontClearMM
	step := (x1 - x0) / blocksAcross
	find := func(s side, want float64) (outline, bool) {
		var blocks [][][]float64
		for k := range blocksAcross {
			x := x0 + float64(k)*step
			blocks = append(blocks, b.outward(s, x, x+step, 0, want+regionReachMM+2*borderReachMM+0.2))
		}
		at, u := b.besideRegion(medianProfile(blocks), want)
		o, ok := b.fitSide(s, blocks, at, x0, step)
		o.u = u
		return o, ok
	}
	var okL, okR bool
	l, okL = find(left, hi)
	r, okR = find(right, -lo)
	return l, r, okL && okR
}

const (
	regionReachMM = 0.4  // a region's border lies within this of the true one
	regionSDMM    = 0.1  // mostly within this
	regionOutMM   = 0.02 // and mostly this far outside
	tintWeight    = 2.0  // of a change in tint, which shadows do not make, against one in brightness
	faintest      = 0.008
)

// besideRegion picks the border of a profile outwards that fits best to where the region ends: how much stands out there in
// the logarithm of brightness and in tint, and how near it lies. Where none stands out the region's end is all there is,
// and u is what regions are good for. The line that the side is then given runs through borders of its own.
func (b *bench) besideRegion(p [][]float64, want float64) (at, u float64) {
	reach := b.sideReach()
	seen := logarithm(p)
	for c := range 2 {
		tint := make([]float64, len(seen[0]))
		for i := range tint {
			tint[i] = tintWeight * (seen[c+1][i] - seen[c][i])
		}
		seen = append(seen, tint)
	}
	at, u = want-regionOutMM, regionSDMM
	best := math.Log(faintest)
	for start := want - regionReachMM; start <= want+regionReachMM; start += 0.05 {
		e := subpixel.SettleBorder(p, settled(p, start*b.ppm, reach, b.blurPX), reach, b.blurPX)
		strength, _ := subpixel.BorderStrength(seen, e.Pos, reach, b.blurPX)
		x := e.Pos / b.ppm
		if m := 0.5*math.Log(max(strength, 1e-9)) - 0.5*sq((x-want+regionOutMM)/regionSDMM); m > best {
			best, at, u = m, x, e.U/b.ppm
		}
	}
	return at, u
}

// wallSpan is from where to where across the side wall that faces the camera is seen: the silhouette less what shows beside
// it of the floor or of the far hump at the angle of view.
func (b *bench) wallSpan(s sleeve) (lo, hi float64) {
	mid := (b.part.RearX + b.part.FrontX) / 2
	lo, hi = s.right.at(mid), s.left.at(mid)
	_, across := b.slopes()
	if beside := b.body.wall * across; beside > 0 {
		lo += min(beside, 0.4*(hi-lo))
	} else {
		hi += max(beside, -0.4*(hi-lo))
	}
	return lo, hi
}

// profileEnds finds the sleeve's rear and front edge on the flat strip that faces the camera. At the front it is looked
// for where no neck goes on beyond it.
func (b *bench) profileEnds(s *sleeve, open side) bool {
	rear, front := b.part.RearX, b.part.FrontX
	lo, hi := b.wallSpan(*s)
	mid, half := (lo+hi)/2, (hi-lo)/2
	strip := func(from, to float64) band { // outwards from the middle to the open side
		a, c := mid+float64(open)*from*half, mid+float64(open)*to*half
		return band{math.Min(a, c), math.Max(a, c)}
	}
	long := math.Inf(1)
	var ok bool
	rearEdge := straightEdge{at: rear, sd: edgeSDMM, from: -long, to: long, before: crossReachMM, after: crossReachMM, whole: true}
	if s.rear, ok = rearEdge.find(b, strip(-0.6, 0.6)); !ok {
		return false
	}
	frontEdge := straightEdge{at: front, sd: edgeSDMM, from: -long, to: long, before: crossReachMM, after: crossReachMM, whole: true}
	if s.front, ok = frontEdge.find(b, strip(0, 0.8)); !ok {
		return false
	}
	s.rearX, s.frontX = s.rear.x, s.front.x
	b.markCross(record.SleeveLength, s.rear)
	b.markCross(record.SleeveLength, s.front)
	return true
}
