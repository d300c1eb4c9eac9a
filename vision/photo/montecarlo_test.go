package photo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty/montecarlo"
)

// These tests draw what a budget only adds up: heights, the angle of view, readings, the scale and the axis' height, each from
// its own distribution, through the camera's true geometry (JCGM 101:2008). Clause 8 there says when the budget will do: its
// standard uncertainty and its 95 % interval agree with the draws' within half a unit of the last digit that counts, here of one.
const mcTrials = 100_000

// mcLeftOut is how far the budgets' standard uncertainties may be off what is drawn: chance moves that of so many draws by
// 1/sqrt(2·100 000) = 0.2 %, and the budgets leave out that the slope of view changes along the part, which at 10 degrees aside
// of the lens is 3 % of the slope over the gap, and that it is a tangent.
const mcLeftOut = 0.015

// mcBench is a part 12 mm long in front of a camera 180 mm above the card, which stands aside of it along the part's axis.
func mcBench(aside float64) *bench {
	d := record.Declared{ConductorArea: 3.96, StrandDiameter: 0.3, InsulationDiameter: 5.9, SheetThickness: 0.7}
	ref := scale.Reference{Camera: cameraAbove(-aside, 0, 180, 4200, 4000, 3000), RelU: 0.002, UTiltDeg: 0.5}
	height, _ := part.AxisHeight(d, ref)
	frame := part.Frame{Camera: ref.Camera, Origin: scale.Vec{Z: height}}
	rec := record.New(record.Seam)
	return &bench{ref: ref, declared: d, frame: frame, relU: ref.RelU, part: part.Part{Frame: frame, RearX: 0.8, FrontX: 7},
		body: newModel(d, 5.9, 4.1), rec: &rec}
}

// turnedAbout is the frame as a camera sees it that stands at an angle more (radians, about the part's y axis through its
// origin), with the origin still in the same pixel.
func turnedAbout(f part.Frame, angle float64) part.Frame {
	c, o := f.Camera, f.Origin
	cos, sin := math.Cos(angle), math.Sin(angle)
	q := [3][3]float64{{cos, 0, sin}, {0, 1, 0}, {-sin, 0, cos}}
	turn := func(m [3][3]float64, v scale.Vec) scale.Vec {
		return scale.Vec{X: m[0][0]*v.X + m[0][1]*v.Y + m[0][2]*v.Z, Y: m[1][0]*v.X + m[1][1]*v.Y + m[1][2]*v.Z, Z: m[2][0]*v.X + m[2][1]*v.Y + m[2][2]*v.Z}
	}
	p := turn(q, o)
	move := turn(c.R, scale.Vec{X: o.X - p.X, Y: o.Y - p.Y, Z: o.Z - p.Z})
	r := c.R
	for i := range 3 {
		for j := range 3 {
			c.R[i][j] = r[i][0]*q[0][j] + r[i][1]*q[1][j] + r[i][2]*q[2][j]
		}
	}
	c.T = scale.Vec{X: c.T.X + move.X, Y: c.T.Y + move.Y, Z: c.T.Z + move.Z}
	f.Camera = c
	return f
}

// TestGapBudgetAgainstMonteCarlo: seen straight down, from the wire's side and from the body's, at 10 degrees.
func TestGapBudgetAgainstMonteCarlo(t *testing.T) {
	const gapMM, cutU, rearU = 0.8, 0.012, 0.015
	for _, aside := range []float64{0, 15, 31, -15, -31} {
		t.Run(fmt.Sprintf("%v mm aside", aside), func(t *testing.T) {
			b := mcBench(aside)
			slope, _ := b.frame.View(0, 0)
			zCut, uCut := 0.95*b.body.wire, 0.1 // the rim nearest the camera, as in gap.go
			if slope < 0 {
				zCut, uCut = (0.8*b.body.bundle+zCut)/2, (zCut-0.8*b.body.bundle)/math.Sqrt(12) // anywhere on the cut face
			}
			cutPX, rearPX := b.frame.Pixel(0, 0, zCut), b.frame.Pixel(gapMM, 0, b.body.top)
			readCut, _ := b.frame.FromPixel(cutPX, 0)
			readRear, _ := b.frame.FromPixel(rearPX, 0)
			b.gapBetween(sleeve{rearX: readRear, rear: crossEdge{u: rearU}}, crossEdge{x: readCut, u: cutU, points: []subpixel.Point{{X: readCut}}})
			got := b.rec.Measured[record.InsulationGapMean]
			assert.InDelta(t, gapMM, got.Value, 1e-6, "the true gap, seen through the camera")
			standard := b.rec.Budgets[record.InsulationGapMean].Standard()

			_, uHeight := part.AxisHeight(b.declared, b.ref)
			draws := montecarlo.Run(mcTrials, 101, func(r *rand.Rand) float64 {
				n := func(mean, standard float64) float64 { return mean + standard*r.NormFloat64() }
				f := turnedAbout(b.frame, n(0, b.uSlope()))
				f.Origin.Z = n(f.Origin.Z, uHeight)
				read := func(px record.Point, u, z float64) float64 {
					x, _ := f.FromPixel(px, z)
					return n(n(x, u), endDefinitionMM)
				}
				gap := read(rearPX, rearU, n(b.body.top, b.body.uTop)) - read(cutPX, cutU, n(zCut, uCut))
				return gap * n(1, b.relU)
			})
			t.Logf("slope %+.3f: budget %.4f, draws %.4f, mean %.4f", slope, standard, draws.Standard(), draws.Mean())
			assert.InDelta(t, gapMM, draws.Mean(), montecarlo.Tolerance(standard, 1))
			assert.InDelta(t, draws.Standard(), standard, montecarlo.Tolerance(standard, 1))
			assert.InEpsilon(t, draws.Standard(), standard, mcLeftOut)
			low, high := draws.Symmetric(0.95)
			assert.InDelta(t, low, gapMM-1.96*standard, montecarlo.Tolerance(standard, 1))
			assert.InDelta(t, high, gapMM+1.96*standard, montecarlo.Tolerance(standard, 1))
			assert.InDelta(t, 0.954, draws.Within(gapMM-got.U, gapMM+got.U), 0.005, "k = 2 of a normal distribution holds 95.4 %")
		})
	}
}

// TestWingBudgetAgainstMonteCarlo: the side wall that shows is the positive part of a normal slope, which is no normal
// distribution and no straight line; the budget has its exact moments, so that u agrees, and k = 2 holds about 95 %.
func TestWingBudgetAgainstMonteCarlo(t *testing.T) {
	const edgeU, seenLeft, seenRight = 0.006, 2.1, -2.0
	for _, aside := range []float64{0, 6, -6, 25, -25} {
		t.Run(fmt.Sprintf("%v mm aside", aside), func(t *testing.T) {
			b := mcBench(0)
			b.ref.Camera = cameraAbove(0, -aside, 180, 4200, 4000, 3000)
			b.frame.Camera = b.ref.Camera
			line := func(y float64) subpixel.Line {
				return subpixel.Line{Mid: subpixel.Point{X: 4, Y: y}, Dir: subpixel.Point{X: 1}, UOffset: edgeU}
			}
			b.wings(sleeve{rearX: 0.8, frontX: 7, left: outline{line: line(seenLeft)}, right: outline{line: line(seenRight)}, seam: seamLine{line: line(0)}}, 0.02)
			got := b.rec.Measured[record.WingWidthLeft]
			standard := b.rec.Budgets[record.WingWidthLeft].Standard()

			_, across := b.slopes()
			_, uHeight := part.AxisHeight(b.declared, b.ref)
			draws := montecarlo.Run(mcTrials, 102, func(r *rand.Rand) float64 {
				n := func(mean, standard float64) float64 { return mean + standard*r.NormFloat64() }
				view := math.Atan(across) + n(0, b.uSlope()) + n(0, rollSDdeg*math.Pi/180)
				wall := n(b.body.wall, b.body.uWall) * math.Max(0, -math.Tan(view))
				width := n(n(seenLeft, edgeU), sideDefinitionMM) - n(0, edgeU) - 0.01 - wall
				return width * n(1, b.relU) * n(1, uHeight/b.ref.Camera.Position().Z)
			})
			share := draws.Within(got.Value-got.U, got.Value+got.U)
			t.Logf("slope %+.3f: value %.4f, mean of draws %.4f; budget %.4f, draws %.4f; k = 2 holds %.3f", across, got.Value, draws.Mean(),
				standard, draws.Standard(), share)
			assert.InDelta(t, draws.Mean(), got.Value, montecarlo.Tolerance(standard, 1))
			assert.InDelta(t, draws.Standard(), standard, montecarlo.Tolerance(standard, 1))
			assert.InEpsilon(t, draws.Standard(), standard, mcLeftOut)
			assert.InDelta(t, 0.95, share, 0.015)
		})
	}
}
