// Package photo turns a found part into measurands. Every length comes from sub-pixel borders in pictures resampled
// straight from the original pixels; every value carries a budget of what makes it uncertain.
package photo

import (
	"math"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/uncertainty"
)

// bench is the work table of one picture: what is known of the part, and the strip on which it is measured.
//
// The strip shows the part in its own frame as seen on the plane of the conductor's axis (z = 0). A point z above it
// looks shifted by z·slopeX along x and z·slopeY across: the slopes under which the part is seen.
type bench struct {
	im       part.Image
	ref      scale.Reference
	declared record.Declared
	part     part.Part
	frame    part.Frame
	strip    *part.Strip
	ppm      float64 // of the strip, about the picture's own resolution
	blurPX   float64 // standard deviation of the picture's blur, in strip pixels
	relU     float64 // relative standard uncertainty of short lengths at the part
	body     model
	cutX     float64 // where the insulation was seen to end; 0 until then
	rec      *record.Record
	debug    func(stage string, mat gocv.Mat)
}

const (
	minPPM, maxPPM = 10, 32
	typicalBlurPX  = 1.1
	resampleBlurPX = 0.7 // bilinear sampling, averaging along an edge that is not quite straight
	mostBlurPX     = 3.5
	beforeMM       = 5.0 // strip before the insulation's end
	beyondMM       = 12.0
	besideMM       = 5.5
)

func newBench(s Subject, rec *record.Record) *bench {
	p := s.Part
	if p.UHeightMM == 0 {
		_, p.UHeightMM = part.AxisHeight(s.Declared, s.Reference)
	}
	b := &bench{im: s.Image, ref: s.Reference, declared: s.Declared, part: p, frame: p.Frame, rec: rec, debug: s.Debug}
	o := p.Frame.Pixel((p.RearX+p.FrontX)/2, 0, 0)
	native := 1 / s.Reference.MMPerPX(o.X, o.Y, p.Frame.Origin.Z)
	b.ppm = math.Max(minPPM, math.Min(maxPPM, native))
	b.relU = s.Reference.RelUAt(o.X, o.Y, p.Frame.Origin.Z)
	b.blurPX = typicalBlurPX
	if s.BlurPX > 0 {
		b.blurPX = math.Min(mostBlurPX, math.Hypot(s.BlurPX*b.ppm/native, resampleBlurPX))
	}
	b.resample()
	return b
}

// show hands the strip with the points of all marks to whoever looks at the stages.
func (b *bench) show(stage string) {
	if b.debug == nil {
		return
	}
	m := b.strip.Mat()
	defer m.Close()
	for _, k := range b.rec.Marks {
		for _, p := range k.Points {
			x, y := b.frame.FromPixel(p, 0)
			part.Cross(m, b.strip.Col(x), b.strip.Row(y), 2, [3]uint8{255, 0, 255})
		}
	}
	b.debug(stage, m)
}

func (b *bench) resample() {
	b.strip = part.NewStrip(b.im, b.frame, -beforeMM, b.part.FrontX+beyondMM, -besideMM, besideMM, 0, b.ppm)
}

// slopes under which the sleeve's middle is seen.
func (b *bench) slopes() (alongX, acrossY float64) {
	return b.frame.View((b.part.RearX+b.part.FrontX)/2, 0)
}

// across is the strip's brightness along y, from y0 up to y1 at the strip's resolution, averaged over x0..x1 along
// lines of slope tilt; one profile a channel.
func (b *bench) across(x0, x1, y0, y1, tilt float64) [][]float64 {
	n := int((y1-y0)*b.ppm) + 1
	out := [][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	cols := 0.0
	mid := (x0 + x1) / 2
	for c := math.Ceil(b.strip.Col(x0)); c <= b.strip.Col(x1); c++ {
		shift := tilt * (b.strip.X(c) - mid)
		for i := range n {
			r := b.strip.Row(y0 + float64(i)/b.ppm + shift)
			for ch := range out {
				out[ch][i] += float64(b.strip.Chan[ch].At(c, r))
			}
		}
		cols++
	}
	return scaled(out, 1/math.Max(1, cols))
}

// along is the strip's brightness along x, from x0 to x1, averaged over y0..y1; one profile a channel.
func (b *bench) along(x0, x1, y0, y1 float64) [][]float64 {
	n := int((x1-x0)*b.ppm) + 1
	out := [][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	rows := 0.0
	for r := math.Ceil(b.strip.Row(y1)); r <= b.strip.Row(y0); r++ {
		for i := range n {
			c := b.strip.Col(x0 + float64(i)/b.ppm)
			for ch := range out {
				out[ch][i] += float64(b.strip.Chan[ch].At(c, r))
			}
		}
		rows++
	}
	return scaled(out, 1/math.Max(1, rows))
}

// greyAcross is the mean of the channels across, without tilt.
func (b *bench) greyAcross(x0, x1, y0, y1 float64) []float64 {
	p := b.across(x0, x1, y0, y1, 0)
	for i := range p[0] {
		p[0][i] = (p[0][i] + p[1][i] + p[2][i]) / 3
	}
	return p[0]
}

func scaled(v [][]float64, f float64) [][]float64 {
	for _, p := range v {
		for i := range p {
			p[i] *= f
		}
	}
	return v
}

// set notes a value with its budget. Lengths get the scale's share added here, so that no measurand forgets it.
func (b *bench) set(key record.Key, value float64, budget uncertainty.Budget) {
	if key.Unit() == "mm" {
		u := b.part.UHeightMM
		budget = append(slices.Clone(budget),
			uncertainty.Component{Name: "scale", Source: "reference's corners, distortion and the camera's distance", Standard: math.Abs(value) * b.relU},
			uncertainty.Component{Name: "height", Source: "height of the axis over the reference, over the camera's distance",
				Standard: math.Abs(value) * u / b.ref.Camera.Position().Z})
	}
	b.rec.SetBudget(key, value, budget)
}

// mark notes where something was measured: points (x, y) of the frame at height z.
func (b *bench) mark(kind record.MarkKind, key record.Key, z float64, xy ...[2]float64) {
	m := record.Mark{Kind: kind, Key: key}
	for _, p := range xy {
		m.Points = append(m.Points, b.frame.Pixel(p[0], p[1], z))
	}
	b.rec.Marks = append(b.rec.Marks, m)
}
