package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// seamLine is the seam along the sleeve: the dark groove in which the wings meet.
type seamLine struct {
	line   subpixel.Line
	points []subpixel.Point // centre of the groove, one a block, mm
	depth  float64          // typical depth of the groove, ln of brightness
}

// at is the seam's straight line at x.
func (l seamLine) at(x float64) float64 {
	return lineAt(l.line, x)
}

const (
	seamBlockMM = 0.2
	seamReachMM = 0.3 // the groove is looked for this far from where it is expected
	flankMM     = 0.25
)

// logAcross is the mean channel's ln brightness across, see across.
func (b *bench) logAcross(x0, x1, y0, y1 float64) []float64 {
	v := b.greyAcross(x0, x1, y0, y1)
	for i := range v {
		v[i] = math.Log(v[i] + part.LogFloor)
	}
	return v
}

// findSeam looks for the straight line between the sides lo < hi along which a groove shows best, follows the groove along it
// from block to block and fits a line to what was found.
func (b *bench) findSeam(rear, front, lo, hi float64) (l seamLine, ok bool) {
	x0, x1 := rear+0.3, front-0.2
	if l.line, ok = b.grooveLine(x0, x1, lo, hi); !ok {
		return l, false
	}
	for range 2 {
		var depths []float64
		l.points = nil
		for x := x0; x+seamBlockMM <= x1; x += seamBlockMM {
			if y, depth, ok := b.groove(x, x+seamBlockMM, l.at(x+seamBlockMM/2)); ok {
				l.points = append(l.points, subpixel.Point{X: x + seamBlockMM/2, Y: y})
				depths = append(depths, depth)
			}
		}
		line, err := fitAlong(l.points)
		if err != nil || line.Dir.X < 0.97 || len(l.points) < 8 {
			return l, false
		}
		l.line, l.depth = line, subpixel.Percentile(depths, 50)
	}
	return l, true
}

const (
	seamAsideShare = 0.36 // of the sleeve's width: no seam runs farther from its middle
	seamTurnDeg    = 4.0
	seamTurnStep   = 0.25
	plainGrooveLn  = 0.8 // deeper grooves count no more: one dark spot is no seam
)

// grooveLine is the line along which the picture is darker than flankMM to either side, in most blocks and most clearly; what
// lies far from the middle must be clearer. It is a Hough transform for one line.
func (b *bench) grooveLine(x0, x1, lo, hi float64) (subpixel.Line, bool) {
	mid, aside := (lo+hi)/2, seamAsideShare*(hi-lo)
	reach := aside + flankMM + 0.05
	var depths [][]float64
	var at []float64
	flank := int(flankMM*b.ppm + 0.5)
	for x := x0; x+seamBlockMM <= x1; x += seamBlockMM {
		v := b.logAcross(x, x+seamBlockMM, mid-reach, mid+reach)
		d := make([]float64, len(v))
		for i := flank; i+flank < len(v); i++ {
			d[i] = math.Max(0, math.Min(plainGrooveLn, math.Min(v[i-flank], v[i+flank])-v[i]))
			d[i] += b.part.Regions.At(part.Through, b.frame, x+seamBlockMM/2, mid-reach+float64(i)/b.ppm)
		}
		depths, at = append(depths, d), append(at, x+seamBlockMM/2)
	}
	best, y0, slope := 0.0, 0.0, 0.0
	for deg := -seamTurnDeg; deg <= seamTurnDeg; deg += seamTurnStep {
		t := math.Tan(deg * math.Pi / 180)
		for y := mid - aside; y <= mid+aside; y += 1 / b.ppm {
			sum := 0.0
			for k, d := range depths {
				i := int((y+t*(at[k]-(x0+x1)/2)-mid+reach)*b.ppm + 0.5)
				if i >= 0 && i < len(d) {
					sum += d[i]
				}
			}
			if sum *= 1 - 0.5*math.Abs(y-mid)/aside; sum > best {
				best, y0, slope = sum, y, t
			}
		}
	}
	n := math.Hypot(1, slope)
	return subpixel.Line{Mid: subpixel.Point{X: (x0 + x1) / 2, Y: y0}, Dir: subpixel.Point{X: 1 / n, Y: slope / n}}, best > 0.1*float64(len(depths))
}

// groove finds the middle of the darkest narrow groove near y (mm), by the centre of gravity of its darkness below the
// darker of its flanks' brightness.
func (b *bench) groove(x0, x1, y float64) (at, depth float64, ok bool) {
	reach := seamReachMM + flankMM + 0.05
	v := b.logAcross(x0, x1, y-reach, y+reach)
	flank := int(flankMM*b.ppm + 0.5)
	best, low := 0, 0.0
	for i := flank; i+flank < len(v); i++ {
		if d := math.Min(v[i-flank], v[i+flank]) - v[i]; d > low {
			best, low = i, d
		}
	}
	if low < 0.1 {
		return 0, 0, false
	}
	level := v[best] + low/2
	var sum, moment float64
	for i := best - flank; i <= best+flank; i++ {
		if w := level - v[i]; w > 0 {
			sum, moment = sum+w, moment+w*float64(i)
		}
	}
	return y - reach + moment/sum/b.ppm, low, true
}

func meanOf(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// markSeam notes the groove's points for drawing.
func (b *bench) markSeam(l seamLine) {
	var pts [][2]float64
	for _, p := range l.points {
		pts = append(pts, [2]float64{p.X, p.Y})
	}
	b.mark(record.MarkEdge, record.SeamOffset, 0, pts...)
}
