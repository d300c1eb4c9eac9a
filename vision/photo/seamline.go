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

// findSeam follows the groove from block to block and fits a line to it.
func (b *bench) findSeam(rear, front float64) (seamLine, bool) {
	var l seamLine
	var depths []float64
	expected := 0.0
	for round := range 2 {
		l.points, depths = nil, nil
		for x := rear + 0.3; x+seamBlockMM <= front-0.2; x += seamBlockMM {
			if round == 1 {
				expected = l.at(x)
			}
			y, depth, ok := b.groove(x, x+seamBlockMM, expected)
			if ok {
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

// grooveEnds tells from where to where along x the groove is seen: the ends of the stretch round the middle in which the
// seam's row is darker than its flanks by at least half of what is usual. Gaps shorter than a missing piece are passed over.
func (b *bench) grooveEnds(l seamLine, rear, front float64) (from, to float64) {
	depth := func(x float64) float64 {
		y := l.at(x)
		v := b.logAcross(x-0.05, x+0.05, y-flankMM-0.1, y+flankMM+0.1)
		n := len(v)
		mid := math.Min(math.Min(v[n/2-1], v[n/2]), v[n/2+1])
		edge := int(0.2*b.ppm) + 1
		return math.Min(meanOf(v[:edge]), meanOf(v[n-edge:])) - mid
	}
	half, mid := l.depth/2, (rear+front)/2
	from, to = mid, mid
	for x := mid; x > rear-1; x -= 0.05 {
		if depth(x) > half {
			from = x
		} else if from-x > 0.35 && x < rear+0.4 {
			break
		}
	}
	for x := mid; x < front+1; x += 0.05 {
		if depth(x) > half {
			to = x
		} else if x-to > 0.35 && x > front-0.4 {
			break
		}
	}
	return from - 0.05, to + 0.05
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
