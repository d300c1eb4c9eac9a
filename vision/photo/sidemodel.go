package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/uncertainty"
)

// The width of a sleeve that lies on its side is not seen: it is the mean of what its wire's diameter and its
// conductor's area make likely. The side wall that faces the camera stands half of it above the axis. Seen under an angle,
// the silhouette grows by the distance between what is foremost on either side, the crown of a hump and the floor's
// corner: breadthShare of the width, less for a rounded floor, more for one with sharp corners. The shares are those of
// rolled crimps of 2.5 to 10 mm².
const (
	widthShare    = 0.68
	breadthShare  = 0.62
	uBreadthShare = 0.09
	innerShare    = 1.25 // of the root of the conductor's area: the sleeve's inner width
)

// newSideModel is the model for a part on its side: top is the height of the side wall that faces the camera, wall the
// breadth by which the silhouette grows with the angle of view.
func newSideModel(d record.Declared, wireMM float64) model {
	width := widthShare * wireMM
	if d.ConductorArea > 0 {
		sheet := d.SheetThickness
		if sheet == 0 {
			sheet = typicalSheet
		}
		width = (width + 2*sheet + innerShare*math.Sqrt(d.ConductorArea)) / 2
	}
	m := newModel(d, wireMM, width)
	m.top, m.uTop = width/2, 0.25
	m.tips = m.top
	m.wall, m.uWall = breadthShare*width, uBreadthShare*width
	return m
}

// crimpHeight measures the sleeve's length and height. The silhouette of a section of height H and breadth B (model.wall)
// under the angle a is H·cos a + B·|sin a| wide across the line of sight, and 1/cos v times that on the plane of the axis,
// seen v from straight above; a is v and the part's own roll, which the picture does not show.
func (b *bench) crimpHeight(s sleeve) {
	top := b.body.top
	rear, front := b.atHeight(s.rearX, 0, top), b.atHeight(s.frontX, 0, top)
	slope, across := b.slopes()
	b.set(record.SleeveLength, front-rear, uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at both ends", Standard: math.Hypot(s.rear.u, s.front.u)},
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: sideEndMM * math.Sqrt2},
		{Name: "height", Source: "height of the wall that faces the camera", Standard: b.body.uTop * (front - rear) / b.ref.Camera.Position().Z},
		{Name: "angle", Source: "the axis rises or falls by a degree or so; the sheet's end face is seen at one end",
			Standard: math.Abs(slope) * math.Hypot(uPitch*(front-rear), b.body.sheet/math.Sqrt(3))},
	})
	b.mark(record.MarkLength, record.SleeveLength, top, [2]float64{rear, 0}, [2]float64{front, 0})

	mid := (s.rearX + s.frontX) / 2
	seen := (s.left.at(mid) - s.right.at(mid)) / math.Sqrt(1+across*across)
	_, _, both, _, _, uBoth := b.body.exposed(across, b.uSlope())
	roll2 := sq(rollSDdeg * math.Pi / 180)
	height := (seen - both) * (1 + (across*across+roll2)/2) // over cos a, to the second order
	b.set(record.SleeveWidth, height, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders along both sides", Standard: math.Hypot(s.left.uPlace(), s.right.uPlace())},
		{Name: "definition", Source: "where a rounded side ends against the ground", Standard: sideEndMM * math.Sqrt2},
		{Name: "angle", Source: "floor or seam side seen at the angle of view and the part's own roll", Standard: uBoth},
	})
	b.mark(record.MarkLength, record.SleeveWidth, 0, [2]float64{mid, s.right.at(mid)}, [2]float64{mid, s.left.at(mid)})
}

// uPlace is the standard uncertainty of where a side lies: of its straight line and of a border that hardly stands out.
func (o outline) uPlace() float64 { return math.Hypot(o.line.UOffset, 2*o.u) }

// uPitch is how far the axis rises or falls along x, as a standard deviation (radians): a sleeve is thinner than its wire.
const uPitch = 0.02
