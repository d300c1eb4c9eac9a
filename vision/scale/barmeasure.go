package scale

import (
	"math"

	"crimprule/vision/subpixel"
)

// drawnBar is a level bar in a picture. Lengths and places are pixels of that picture.
type drawnBar struct {
	sign        float64    // 1: lighter than its ground, -1: darker
	tone        float64    // the bar's grey value
	ground      float64    // that of what lies above and below it: the one that is nearer to the bar's
	contrast    float64    // |tone - ground|
	grounds     [2]float64 // above and below
	spread      float64    // rms deviation of the bar's pixels from the tone of their row
	ya, yb      int        // the rows that it covers whole
	top, bottom float64
	left, right barEnd

	upright  bool // the picture was transposed: text runs down it
	label    box
	labelled bool // text was found beside it
	isLetter bool // it is a stroke of that text
}

// barEnd is one end of a bar.
type barEnd struct {
	at   float64 // x of the end
	u    float64 // standard uncertainty of at
	soft int     // pixels between a tenth and nine tenths of the step
	rows int     // that it was read in

	ground float64 // the grey value beyond it
}

// blended tells whether the end was drawn with a partly covered pixel: it is sharp, and surely does not lie between two
// pixels. JPEG can move the ends of a bar of one or two rows by up to a quarter of a pixel.
func (e barEnd) blended() bool {
	off := math.Abs(e.at - 0.5 - math.Round(e.at-0.5))
	doubt := math.Max(0.03, 3*e.u)
	if e.rows < 3 {
		doubt = math.Max(0.25, doubt)
	}
	return e.soft <= 1 && off > doubt
}

// flawless tells whether the bar is so flat, so sharp and so evenly surrounded that it can only be drawn, even without text.
func (b *drawnBar) flawless() bool {
	for _, g := range []float64{b.grounds[0], b.grounds[1], b.left.ground, b.right.ground} {
		if math.Abs(g-b.ground) > 0.25*b.contrast {
			return false
		}
	}
	return !b.upright && b.spread <= math.Max(2, 0.015*b.contrast) && b.left.soft <= 1 && b.right.soft <= 1
}

// barReach is how many px before and behind an edge its step is summed up.
const barReach = 3

// measureBar tests and measures what lies between two level edges. False where it is no drawn bar: not of one tone, with
// a side that is soft or not straight, or with ends that are soft, not square, or go on into something else.
func (p plane8) measureBar(top, bottom levelEdge) (drawnBar, bool) {
	x0, x1 := max(top.x0, bottom.x0), min(top.x1, bottom.x1)
	b := drawnBar{sign: float64(top.sign)}
	margin := (x1 - x0) / 10
	level := func(y int) float64 { return p.median8(min(max(y, 0), p.h-1), x0+margin, x1-margin) }
	middle := (top.y + bottom.y) / 2
	for y := max(top.y, middle-2); y <= min(bottom.y, middle+2); y++ { // a thin bar may cover only one row whole
		if b.sign*(level(y)-level(middle)) > 0 {
			middle = y
		}
	}
	b.tone = level(middle)
	above, below := median3(level(top.y-2), level(top.y-3), level(top.y-4)), median3(level(bottom.y+2), level(bottom.y+3), level(bottom.y+4))
	b.contrast = math.Min(b.sign*(b.tone-above), b.sign*(b.tone-below))
	b.grounds = [2]float64{above, below}
	b.ground = b.tone - b.sign*b.contrast
	if b.contrast < barMinStep {
		return b, false
	}
	if !b.sides(p.h, middle, above, below, level) || b.bottom-b.top > float64(x1-x0)/barAspect {
		return b, false
	}
	if !p.straight(b, x0+margin, x1-margin, above, below) {
		return b, false
	}
	furthest := max(edgeGapPX, (x1-x0)/8, int(4*(b.bottom-b.top)))
	var ok bool
	if b.left, ok = p.end(b, x0+(x1-x0)/4, x0-furthest, -1); !ok {
		return b, false
	}
	if b.right, ok = p.end(b, x1-(x1-x0)/4, x1+furthest, 1); !ok {
		return b, false
	}
	flat := b.lengthPX() >= barMinLength && p.flat(&b, int(math.Ceil(b.left.at))+2, int(b.right.at)-2)
	return b, flat
}

// sides finds the whole rows of the bar and its upper and lower side. False where a side is soft.
func (b *drawnBar) sides(rows, middle int, above, below float64, level func(int) float64) bool {
	cover := func(y int, ground float64) float64 { return (level(y) - ground) / (b.tone - ground) }
	const whole, none, softest = 0.9, 0.1, 2
	walk := func(step int, ground float64) (last int, rest float64, ok bool) {
		last = middle
		for last+step >= 0 && last+step < rows && cover(last+step, ground) >= whole {
			last += step
		}
		for k := 1; k <= softest+1; k++ {
			c := cover(last+k*step, ground)
			if c < none {
				return last, rest, true
			}
			rest += c
		}
		return last, rest, false
	}
	ya, restAbove, ok1 := walk(-1, above)
	yb, restBelow, ok2 := walk(1, below)
	b.ya, b.yb = ya, yb
	b.top, b.bottom = float64(ya)-0.5-restAbove, float64(yb)+0.5+restBelow
	return ok1 && ok2
}

// flat tells whether each whole row of the bar is of one tone; the first and the last may be covered in part. JPEG leaves ripples along its sides; the reflexes, scratches and grain of
// metal reach further.
func (p plane8) flat(b *drawnBar, x0, x1 int) bool {
	tolerance := math.Max(8, 0.15*b.contrast)
	n, off, squares := 0, 0, 0.
	for y := b.ya; y <= b.yb; y++ {
		tone := p.median8(y, x0, x1)
		for _, v := range p.v[y*p.w+x0 : y*p.w+x1+1] {
			d := float64(v) - tone
			n++
			squares += d * d
			if math.Abs(d) > tolerance {
				off++
			}
		}
	}
	b.spread = math.Sqrt(squares / float64(n))
	return float64(off) <= 0.015*float64(n) && b.spread <= math.Max(4, 0.05*b.contrast)
}

// straight tells whether the bar's upper and lower side are straight and level to less than half a pixel, read in
// stretches of its length.
func (p plane8) straight(b drawnBar, x0, x1 int, above, below float64) bool {
	const stretches = 12
	for _, side := range []struct {
		row, step int
		ground    float64
	}{{b.ya, -1, above}, {b.yb, 1, below}} {
		var rests []float64
		for k := range stretches {
			xa, xb := x0+k*(x1-x0)/stretches, x0+(k+1)*(x1-x0)/stretches
			rest := 0.
			for j := 1; j <= barReach; j++ {
				y := side.row + j*side.step
				if y < 0 || y >= p.h {
					break
				}
				rest += (p.median8(y, xa, xb) - side.ground) / (b.tone - side.ground)
			}
			rests = append(rests, rest)
		}
		// Two stretches may lie beside something else, such as a speck or a letter.
		if subpixel.Percentile(rests, 85)-subpixel.Percentile(rests, 15) > 0.5 {
			return false
		}
	}
	return true
}

// end measures an end: from x it goes outwards (step -1 or 1), at most to limit. False where the bar does not end there,
// or softly, or not square.
func (p plane8) end(b drawnBar, x, limit, step int) (barEnd, bool) {
	column := func(x int) float64 { // mean over the bar's whole rows
		sum := 0.
		for y := b.ya; y <= b.yb; y++ {
			sum += float64(p.v[y*p.w+x])
		}
		return sum / float64(b.yb-b.ya+1)
	}
	for b.sign*(b.tone-column(x)) < b.contrast/2 {
		x += step
		if x < 0 || x >= p.w || step*(x-limit) > 0 {
			return barEnd{}, false
		}
	}
	x -= step // the last pixel that is more bar than ground
	const inner, outer = 10, 7
	if x+outer*step < 0 || x+outer*step >= p.w || b.yb < b.ya {
		return barEnd{}, false
	}
	ground := median(column(x+(barReach+1)*step), column(x+(barReach+2)*step), column(x+(barReach+3)*step), column(x+outer*step))
	tone := 0.
	for k := barReach; k < inner; k++ {
		tone += column(x-k*step) / (inner - barReach)
	}
	if b.sign*(tone-ground) < math.Max(barMinStep, b.contrast/2) {
		return barEnd{}, false
	}
	e := barEnd{rows: b.yb - b.ya + 1}
	for k := -barReach; k <= barReach; k++ {
		if c := (column(x+k*step) - ground) / (tone - ground); c > 0.1 && c < 0.9 {
			e.soft++
		}
	}
	reach := barReach
	if e.soft <= 1 {
		// A sharp end is over after two pixels. Where a speck lies beyond it, the ground above or below the bar may be the
		// better one: that which is nearer to the first pixel beyond.
		reach--
		first := column(x + 2*step)
		for _, g := range b.grounds {
			if math.Abs(g-first) < math.Abs(ground-first)-0.05*b.contrast {
				ground = g
			}
		}
	}
	var rows []float64
	for y := b.ya; y <= b.yb; y++ {
		covered := 0.
		for k := -reach; k <= reach; k++ {
			covered += (float64(p.v[y*p.w+x+k*step]) - ground) / (tone - ground)
		}
		rows = append(rows, covered)
	}
	mean, sd := meanSD(rows)
	e.at = float64(x) - float64(step)*(float64(reach)+0.5-mean)
	e.ground = ground
	e.u = p.endU(b, rows, sd, ground, tone, reach, x, step)
	return e, e.soft <= 3 && sd <= 0.35
}

// endU is the standard uncertainty of an end at pixel x. It has two parts. The first is the scatter of its rows, pooled
// with what the unrest of the pixels round the end lets expect of a row, which counts as much as four rows: thin bars have
// few. JPEG's ripples may add up over the reach pixels to either side, and three neighbouring rows count as one, since its
// blocks are not confined to one. The second is what unevenness does to the ground's tone, which is read off four columns
// and acts on each pixel of the sum.
func (p plane8) endU(b drawnBar, rows []float64, sd, ground, tone float64, reach, x, step int) float64 {
	var round, columns []float64
	for k := 2; k <= barReach+4; k++ {
		sum := 0.
		for y := max(0, b.ya-3); y <= min(p.h-1, b.yb+3); y++ {
			v := (float64(p.v[y*p.w+x+k*step]) - ground) / (tone - ground)
			round = append(round, v)
			if y >= b.ya && y <= b.yb {
				sum += v / float64(len(rows))
			}
		}
		if k >= reach && k < reach+4 {
			columns = append(columns, sum)
		}
	}
	_, unrest := meanSD(round)
	_, uneven := meanSD(columns)
	const quantum = 1. / 12 // of a grey level's rounding
	pixel := unrest*unrest + quantum/((tone-ground)*(tone-ground))
	n, r2 := float64(len(rows)), float64(reach*reach)
	scatter := ((n-1)*sd*sd + 4*2*r2*pixel) / (n + 3) / math.Max(1, n/3)
	return math.Sqrt(scatter + r2*uneven*uneven/4)
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sd / math.Max(1, float64(len(v)-1)))
}

func median(v ...float64) float64 { return subpixel.Percentile(v, 50) }

func median3(a, b, c float64) float64 { return math.Max(math.Min(a, b), math.Min(math.Max(a, b), c)) }
