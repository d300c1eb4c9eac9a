// Package shape turns the polygons of a crimp's cross-section into its measurands: heights, widths, burrs, floor, wing
// tips and symmetry. It sees no picture; who finds the polygons hands over how well.
//
// Everything is millimetres, y up. The input's frame need only be roughly right: the floor down, turned by less than
// about ten degrees, any offset. The level frame (Frame) has its x axis on the floor's line and x = 0 in the middle
// between the side walls. Points that are handed out are in the input's frame.
package shape

import (
	"errors"
	"fmt"
	"math"

	"crimprule/vision/record"
	"crimprule/vision/section/raster"
	"crimprule/vision/uncertainty"
)

// Edge tells how well an outline is known, all in mm.
type Edge struct {
	Systematic  float64 // standard uncertainty of the edge's place as a whole, along its normal
	Random      float64 // standard deviation of single points along the normal
	Correlation float64 // length along the edge over which these errors go together
}

// Input is what was found in the picture. Polygons are closed (the last point joins the first), of either sense, with
// points as close as the edge was followed.
type Input struct {
	// Outer is the sleeve's outer outline. Where the wings touch it dips into the notch between the lobes as far as the
	// wings stand apart there, and no further. Where a channel is open from outside to the strands it is one polygon
	// that runs down the channel, round the cavity and back.
	Outer []raster.Point
	// Cavities are all pieces of the cavity; a wing's tip that touches floor or wall cuts it in two. The cusp between
	// the wings' tips belongs to it. With an open channel only pieces that the tips cut off are listed.
	Cavities [][]raster.Point
	// Seam runs from the notch to where the wings cease to touch; only its last point is used, to tell the cusp from
	// other dents of the cavity's roof. It may be empty.
	Seam []raster.Point
	// OuterEdge and InnerEdge hold for Outer (in a channel and beyond it InnerEdge does) and for Cavities.
	OuterEdge, InnerEdge Edge
}

// Value is one measurand. U is expanded (k = 2); the scale's share is not in it, since only who knows the scale can add
// it to Budget. Missing, where set, says why there is no value.
type Value struct {
	Value, U float64
	Budget   uncertainty.Budget
	From, To raster.Point // the two ends of a length
	Missing  string
}

// Found is what Measure found. Points are in the input's frame.
type Found struct {
	// Values has every key from record.CrimpHeight to record.WingOpening, and record.Symmetry.
	Values            map[record.Key]Value
	Frame             Frame
	FloorLine         [2]raster.Point    // left and right end
	Walls             [2][2]raster.Point // the straight outer walls carried down to the floor's line; left, right
	TipLeft, TipRight raster.Point
	Notch, Contact    raster.Point
	Link              [2]raster.Point // the open wings' shortest link; both are Contact where the wings touch
	// CavityLeft and CavityRight are the pieces of the cavity either side of the line through Contact square to the
	// floor; areas in mm².
	CavityLeft, CavityRight [][]raster.Point
	AreaLeft, AreaRight     float64
}

// touchMM is the distance below which wings touch: the contract's reading of a section.
const touchMM = 0.004

// readingMM is the standard uncertainty of where a rounded corner ends and a floor begins, and of the polygon's steps:
// what two careful readers of the same exact outline differ by. Common practice, no source.
const readingMM = 0.0006

// Measure takes all lengths and the symmetry from the polygons. The error says what is wrong with them where nothing
// can be measured.
func Measure(in Input) (Found, error) {
	outer, err := newCurve(in.Outer, "outer outline")
	if err != nil {
		return Found{}, err
	}
	o, err := level(outer, in.OuterEdge)
	if err != nil {
		return Found{}, err
	}
	f := Found{Values: map[record.Key]Value{}, Frame: o.frame}
	o.lengths(&f)
	if err := cavityLengths(in, o, &f); err != nil {
		why := err.Error()
		for _, k := range cavityKeys {
			if _, ok := f.Values[k]; !ok {
				f.Values[k] = Value{Missing: why}
			}
		}
	}
	return f, nil
}

// cavityKeys need the cavity.
var cavityKeys = []record.Key{
	record.FloorThickness, record.WingTipFloorLeft, record.WingTipFloorRight, record.WingTipHeightDifference,
	record.WingOpening, record.Symmetry,
}

// newValue makes a value of a budget; components of zero are left out.
func newValue(v float64, from, to raster.Point, parts ...uncertainty.Component) Value {
	out := Value{Value: v, From: from, To: to}
	for _, p := range parts {
		if p.Standard > 0 {
			out.Budget = append(out.Budget, p)
		}
	}
	out.U = out.Budget.Expanded()
	return out
}

func part(name, source string, standard float64) uncertainty.Component {
	return uncertainty.Component{Name: name, Source: source, Standard: math.Abs(standard)}
}

var errFew = errors.New("fewer than eight different points")

// checked refuses what is no polygon.
func checked(p []raster.Point, name string) error {
	if len(p) < 8 {
		return fmt.Errorf("the %s has %d points: %w; follow the edge again", name, len(p), errFew)
	}
	for i, q := range p {
		if math.IsNaN(q.X+q.Y) || math.IsInf(q.X+q.Y, 0) {
			return fmt.Errorf("point %d of the %s is (%g, %g): no place; follow the edge again", i, name, q.X, q.Y)
		}
	}
	return nil
}
