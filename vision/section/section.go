// Package section measures the micrograph of a crimp's cross-section: outline, cavity, wings, strands and voids.
//
// Frame: x to the right, y up, millimetres; the floor's line is y = 0 and level, x = 0 the middle between the side
// walls. Pixels are those of the upright picture.
package section

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/section/raster"
	"crimprule/vision/section/shape"
	"crimprule/vision/section/strands"
	"crimprule/vision/uncertainty"
)

// Subject is what is measured.
type Subject struct {
	Mat      gocv.Mat // 8-bit BGR, upright; owned by the caller
	Deep     gocv.Mat // the original 16-bit values, one or three channels; empty where there are none
	Scale    scale.Micro
	Declared record.Declared
	// Debug, where set, is handed pictures of the stages.
	Debug func(stage string, mat gocv.Mat)

	full *float32 // see rangeOf
}

// site is the section found in the picture: the view about it, its outline and how it lies.
type site struct {
	view    view
	ground  ground
	outline outline
	frame   frame // the view's pixels to mm, floor down
	notch   raster.Point
	mmPerPX float64 // of the view
	blurPX  float64
	// grain is how much less sure the cavity's border is than where sleeve and strands differ clearly in tone: 1 to mostGrain.
	grain float64
}

// Measure fills the record with what the section shows. The error is a scale.Refusal where the picture cannot be
// measured, else a fault of ours.
func Measure(s Subject, rec *record.Record) error {
	s.full = new(float32)
	at, err := s.find(rec)
	if err != nil {
		return err
	}
	v := at.view
	rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkSleeve, Points: v.marks(at.outline.line)})
	s.show("outline", v, at.outline.line)

	c, err := at.findCavity(rec)
	if err != nil {
		return err
	}
	at.grain = math.Max(1, math.Min(mostGrain, c.classes.sd/grainySD))
	between := findSeam(v, c.grid, c.classes, c.mask, at.notch, at.frame, at.mmPerPX, at.blurPX)
	s.showSite("cavity", at, c, between)
	found, err := shape.Measure(at.shapeInput(c, between))
	if err != nil {
		return refuse("the section's outline cannot be read: %s", err)
	}
	place := func(p raster.Point) record.Point {
		q := v.picture(at.frame.px(p))
		return record.Point{X: q.X, Y: q.Y}
	}
	lengths(found, s.Scale, at.uInner(), place, rec)
	touching(between, at, rec)
	checkSheet(s.Declared, rec)
	cracks, lines := at.findCracks(c, between)
	rec.Cracks = cracks
	s.show("cracks", v, lines...)
	for _, l := range lines {
		rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkCrack, Points: v.marks(l)})
	}
	return s.content(at, c, found, rec)
}

// find looks for the section and checks that it can be measured.
func (s Subject) find(rec *record.Record) (site, error) {
	size := image.Pt(s.Mat.Cols(), s.Mat.Rows())
	if min(size.X, size.Y) < leastSide {
		return site{}, refuse("the picture is too small: %d x %d pixels, at least %d are needed each way; take it again at the camera's full size", size.X, size.Y, leastSide)
	}
	small, err := s.look(image.Rectangle{Max: size}, max(1, (max(size.X, size.Y)+smallSide-1)/smallSide))
	if err != nil {
		return site{}, err
	}
	m, ok := findMetal(small, s.labels(small))
	if !ok {
		return site{}, refuse("no section was found: nothing stands out from the ground; bring the crimp's section into the field and light it from above")
	}
	rec.Note("contrast", m.contrast, 3)
	if m.border > 3 {
		return site{}, refuse("the section is not whole in the frame: its outline runs out of the picture; take a lower magnification or move the stage, with resin all round")
	}
	if m.contrast < leastContrast {
		return site{}, refuse("the section hardly stands out from the resin (contrast %.0f %% of full scale, at least %.0f %% are needed): use more light or a longer exposure",
			100*m.contrast, 100*leastContrast)
	}
	r, step := m.extent(small, size)
	at := site{ground: m.ground, mmPerPX: s.Scale.MMPerPX * float64(step)}
	if at.view, err = s.look(r, step); err != nil {
		return site{}, err
	}
	at.outline = findOutline(at.view, small, m, at.mmPerPX)
	across := at.outline.across()
	rec.Note("px_across", across*float64(step), 0)
	if across < leastAcross {
		return site{}, refuse("the section is too small in the picture: %.0f pixels across, at least %d are needed; take a higher magnification", across, leastAcross)
	}
	if width := across * at.mmPerPX; width < leastAcrossMM || width > mostAcrossMM {
		return site{}, refuse("the section would be %.5g mm across at the scale of %.4g um a pixel, which no crimp is: check the scale's number and unit, "+
			"such as bar=500um or known=2.05um/px", width, 1000*s.Scale.MMPerPX)
	}
	if m.negative(small) {
		return site{}, refuse("the metal is darker than the resin and its lines are bright: this looks like a negative; invert the picture, or take it in bright field")
	}
	if at.blurPX, ok = blur(at.view, at.outline, at.ground); !ok {
		return site{}, refuse("no sharp border was found between section and resin: focus on the polished face")
	}
	rec.Note("blur_px", at.blurPX*float64(step), 2)
	rec.Note("blur_mm", at.blurPX*at.mmPerPX, 4)
	if mm := at.blurPX * at.mmPerPX; mm > mostBlurMM || at.blurPX > mostBlurPX {
		return site{}, refuse("the picture is out of focus: edges are smeared over %.0f um (%.1f px), at most %.0f um and %.0f px can be measured: "+
			"focus on the polished face, and check that it lies level", 2563*mm, 2.563*at.blurPX, 2563*mostBlurMM, 2.563*mostBlurPX)
	}
	lie, err := shape.Orient(at.outline.line)
	if err != nil {
		return site{}, refuse("no crimp's section was found: %s", err)
	}
	rec.Note("turn_deg", lie.TurnDeg, 2)
	rec.Note("turn_margin", lie.Margin, 3)
	at.notch = lie.Notch
	at.frame = newFrame(lie.TurnDeg, 1/at.mmPerPX, centre(at.outline.line))
	return at, nil
}

// touching widens the u of an opening of 0 to the width of the seam's dark line: wings that stand apart by less than that
// look the same.
func touching(between seam, at site, rec *record.Record) {
	v, ok := rec.Measured[record.WingOpening]
	if !ok || between.open || v.Value != 0 {
		return
	}
	width := touchMM
	if between.found {
		width = math.Min(touchMM, math.Max(0, between.widthPX-2*at.blurPX)*at.mmPerPX)
	}
	if width > v.U {
		rec.SetBudget(record.WingOpening, 0, uncertainty.Budget{
			{Name: "touch", Source: "wings apart by less than the seam's dark line look the same", Standard: width / uncertainty.CoverageFactor},
		})
	}
}

func centre(line []raster.Point) raster.Point {
	var c raster.Point
	for _, p := range line {
		c.X += p.X / float64(len(line))
		c.Y += p.Y / float64(len(line))
	}
	return c
}

// cavity is what lies inside the sleeve.
type cavity struct {
	grid    grid
	classes classes
	mask    raster.Mask      // cells
	lines   [][]raster.Point // borders of its pieces to sub-pixel, px of the view
}

func (at site) findCavity(rec *record.Record) (cavity, error) {
	c := cavity{grid: makeGrid(at.view, at.outline)}
	if err := checkPolish(c.grid, rec); err != nil {
		return c, err
	}
	var seen float64
	c.mask, c.classes, seen = split(c.grid)
	rec.Note("cavity_border_seen", seen, 3)
	rec.Note("tones_spread", c.classes.sd, 3)
	least := leastSeen
	if c.classes.sd > sameTone {
		least = leastSeenAlone
	}
	if seen < least {
		return c, refuse("the strands cannot be told from the sleeve (only %.0f %% of the border between them shows, at least %.0f %% are needed): "+
			"re-polish with a finer grit and etch lightly, so that the borders show, or take the picture in colour", 100*seen, 100*least)
	}
	for _, p := range raster.Borders(c.mask) {
		c.lines = append(c.lines, settle(at.view, each(p, func(a raster.Point) raster.Point { return c.grid.place(a.X, a.Y) }), c.grid, c.classes, at.mmPerPX))
	}
	held := 0.
	for _, l := range c.lines {
		held += math.Abs(raster.Area(l))
	}
	if share := held / math.Abs(raster.Area(at.outline.line)); len(c.lines) > 0 && share < leastCavity {
		return c, refuse("the strands cannot be told from the sleeve: only %.0f %% of the section look like strands, at least %.0f %% are usual: "+
			"re-polish with a finer grit and etch lightly, so that the borders show", 100*share, 100*leastCavity)
	}
	if len(c.lines) == 0 {
		return c, refuse("no strands were found in the section: check that it is cut through the crimp, and polish it again")
	}
	return c, nil
}

// checkPolish refuses a face that was ground but not polished.
func checkPolish(g grid, rec *record.Record) error {
	uneven, pitted := face(g)
	rec.Note("face_uneven", uneven, 3)
	rec.Note("face_pitted", pitted, 4)
	if uneven > mostUneven || pitted > mostPitted {
		return refuse("the section is not polished: the sleeve's face varies by %.0f %% and pits or scratches cover %.1f %% of it (at most %.0f %% and %.1f %%); "+
			"grind with a finer grit, turn the mount by 90 degrees between grits, and polish until the scratches are gone",
			100*uneven, 100*pitted, 100*mostUneven, 100*mostPitted)
	}
	return nil
}

// uInner is the standard uncertainty of the cavity's border as a whole, mm.
func (at site) uInner() float64 {
	return at.grain * math.Hypot(uInnerPX*at.smear()*at.mmPerPX, uInnerMM)
}

// uOuter is that of the outline.
func (at site) uOuter() float64 { return math.Hypot(uRimPX*at.smear()*at.mmPerPX, uRimMM) }

// smear is how much wider than in a usual picture the edges are: what is left of their systematic place grows with it.
func (at site) smear() float64 { return math.Max(1, at.blurPX/usualBlurPX) }

// shapeInput brings the lines into millimetres.
func (at site) shapeInput(c cavity, between seam) shape.Input {
	mm := at.frame.mm
	in := shape.Input{
		OuterEdge: shape.Edge{Systematic: at.uOuter(), Random: 0.3 * at.mmPerPX, Correlation: 6 * at.mmPerPX},
		InnerEdge: shape.Edge{Systematic: at.uInner(), Random: 0.5 * at.mmPerPX, Correlation: 8 * at.mmPerPX},
	}
	if between.open {
		line, cut := joined(at.view, at.outline.line, c.lines, between, c.grid.q)
		in.Outer = each(line, mm)
		for _, p := range cut {
			in.Cavities = append(in.Cavities, each(p, mm))
		}
		return in
	}
	in.Outer = each(at.outline.line, mm)
	for _, p := range c.lines {
		in.Cavities = append(in.Cavities, each(p, mm))
	}
	in.Seam = each(between.line, mm)
	return in
}

// content measures what the cavity holds: strands and voids.
func (s Subject) content(at site, c cavity, found shape.Found, rec *record.Record) error {
	var pieces [][]raster.Point
	length, area := 0., 0.
	for _, p := range append(append([][]raster.Point{}, found.CavityLeft...), found.CavityRight...) {
		length += raster.Length(p)
		area += math.Abs(raster.Area(p))
		pieces = append(pieces, each(p, at.frame.px))
	}
	if len(pieces) == 0 {
		for _, k := range []record.Key{record.StrandCount, record.ConductorArea, record.VoidRatio, record.Compaction} {
			rec.Miss(k, "the cavity could not be closed")
		}
		return nil
	}
	for _, p := range c.lines {
		rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkCavity, Points: at.view.marks(p)})
	}
	x, y, tone, mask := at.cut(pieces)
	got, err := strands.Find(strands.Input{Tone: tone, Cavity: mask, MMPerPX: at.mmPerPX, BlurPX: at.blurPX})
	if err != nil {
		return refuse("the strands cannot be told apart: %s", err)
	}
	move := func(p raster.Point) raster.Point { return raster.Point{X: p.X + x, Y: p.Y + y} }
	px2 := at.mmPerPX * at.mmPerPX
	for _, t := range got.Strands {
		rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkStrand, Points: at.view.marks(each(t.Outline, move)),
			Size: t.AreaPX * px2, Doubtful: t.Doubtful})
	}
	rec.Voids = &record.Voids{Count: len(got.Voids), AreaMM2: got.VoidAreaPX * px2, U: got.UVoidAreaPX * px2}
	for _, t := range got.Voids {
		rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkVoid, Points: at.view.marks(each(t.Outline, move)), Size: t.AreaPX * px2})
		rec.Voids.LargestMM2 = math.Max(rec.Voids.LargestMM2, t.AreaPX*px2)
	}
	listStrands(got, at.mmPerPX, func(p raster.Point) raster.Point { return found.Frame.To(at.frame.mm(move(p))) }, rec)
	is := conductor{cavity: area, uCavity: 2 * at.uInner() * length, void: rec.Voids.AreaMM2, uVoid: rec.Voids.U,
		count: float64(len(got.Strands)), uCount: got.UCount}
	rec.SetBudget(record.StrandCount, is.count, uncertainty.Budget{
		{Name: "definition", Source: "borders between strands that cannot be seen all along", Standard: is.uCount / uncertainty.CoverageFactor},
	})
	areas(is, s.Scale, s.Declared, rec)
	checkDeclared(is, s.Declared, rec)
	return nil
}

// cut takes the cavity's surroundings out of the view: the place of its corner, its planes and the cavity's mask.
func (at site) cut(pieces [][]raster.Point) (x, y float64, tone []raster.Plane, mask raster.Mask) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), 0., 0.
	for _, p := range pieces {
		for _, q := range p {
			x0, y0, x1, y1 = math.Min(x0, q.X), math.Min(y0, q.Y), math.Max(x1, q.X), math.Max(y1, q.Y)
		}
	}
	const margin = 12
	w, h := at.view.grey.W, at.view.grey.H
	l, t := max(int(x0)-margin, 0), max(int(y0)-margin, 0)
	r, b := min(int(x1)+margin, w), min(int(y1)+margin, h)
	for _, p := range at.view.tone {
		c := raster.NewPlane(r-l, b-t)
		for j := range c.H {
			copy(c.Pix[j*c.W:(j+1)*c.W], p.Pix[(j+t)*w+l:(j+t)*w+r])
		}
		tone = append(tone, c)
	}
	var moved [][]raster.Point
	for _, p := range pieces {
		moved = append(moved, each(p, func(q raster.Point) raster.Point { return raster.Point{X: q.X - float64(l), Y: q.Y - float64(t)} }))
	}
	return float64(l), float64(t), tone, raster.Fill(r-l, b-t, moved...)
}

// labels marks what was drawn into the picture.
func (s Subject) labels(v view) raster.Mask {
	var polygons [][]raster.Point
	for _, l := range s.Scale.Labels {
		var p []raster.Point
		for _, q := range l {
			p = append(p, v.inside(raster.Point{X: q.X, Y: q.Y}))
		}
		polygons = append(polygons, p)
	}
	return raster.Fill(v.grey.W, v.grey.H, polygons...)
}

// marks brings a line into the picture's pixels.
func (v view) marks(line []raster.Point) []record.Point {
	out := make([]record.Point, len(line))
	for i, p := range line {
		q := v.picture(p)
		out[i] = record.Point{X: q.X, Y: q.Y}
	}
	return out
}
