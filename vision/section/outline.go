package section

import (
	"image"
	"math"

	"crimprule/vision/section/raster"
	"crimprule/vision/subpixel"
)

const (
	smallSide   = 512     // px: the longer side of the picture in which the section is looked for
	mostPixels  = 3000000 // of the view in which it is measured
	marginShare = 0.05    // of the section's size: resin kept about it
	ringDepth   = 0.035   // of the section's size: so deep below the outline it is certainly the sleeve's metal
)

// outline is the sleeve's outer border.
type outline struct {
	line   []raster.Point // px of the view, clockwise as seen, about one a px
	sleeve []float64      // the metal's tone just inside, one number a channel
	// lightness is the metal's brightness over its contrast to the resin.
	lightness float64
	rimPX     float64 // how far the dark rim's correction moved the line outwards
}

// across is the root of the section's area, px of the view.
func (o outline) across() float64 { return math.Sqrt(math.Abs(raster.Area(o.line))) }

// extent gives the rectangle of the picture about the metal, and the step at which it is worked on.
func (m metal) extent(small view, size image.Point) (image.Rectangle, int) {
	w, h := m.mask.W, m.mask.H
	x0, y0, x1, y1 := w, h, 0, 0
	for i, in := range m.mask.Pix {
		if in {
			x, y := i%w, i/w
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
		}
	}
	margin := marginShare*float64(max(x1-x0, y1-y0)) + 4
	lo := small.picture(raster.Point{X: float64(x0) - margin, Y: float64(y0) - margin})
	hi := small.picture(raster.Point{X: float64(x1) + margin, Y: float64(y1) + margin})
	r := image.Rect(int(lo.X), int(lo.Y), int(hi.X)+1, int(hi.Y)+1).Intersect(image.Rectangle{Max: size})
	step := 1
	for r.Dx()/step*(r.Dy()/step) > mostPixels {
		step++
	}
	return r, step
}

// findOutline follows the border between metal and resin round the section: along the coarse mask's border the picture
// is unrolled, and the way with the steepest fall from metal to resin is found, twice: the second time about the border of
// the pixels that are more metal than resin, which the first way only bounds (thin burrs come in by that). Places are those
// of the steepest fall, moved outwards by what the metal's dark rim is worth.
func findOutline(v view, small view, m metal, mmPerPX float64) outline {
	var line []raster.Point
	for _, p := range raster.Border(m.mask) {
		line = append(line, v.inside(small.picture(p)))
	}
	ratio := small.step / v.step
	line = raster.Smooth(raster.Resample(line, 1, true), 1.2*ratio)
	line = raster.Resample(line, 1, true)
	o := outline{sleeve: make([]float64, len(v.tone))}
	signal := o.signal(v, m.ground, line)
	falls := follower{signal: signal, sign: -1, along: 2, bend: 0.02}
	line = falls.on(line, 2.5*ratio+4, 0.5)
	if fine := sharpened(v, line, 4*ratio+3, max(crackPX, int(dentMM/mmPerPX)), signal); len(fine) > len(line)/2 {
		line = fine
	}
	line = raster.Resample(raster.Smooth(raster.Resample(line, 1, true), 1.5), 1, true)
	line = falls.on(line, 5, 0.25)
	at, value := some(line, 3, 10, 0.25, signal).profile()
	o.rimPX = rimOffset(at, value, mostRim*o.lightness)
	o.line = shifted(line, o.rimPX)
	return o
}

const (
	crackPX = 3     // half the width of a dent in the metal's border that is bridged: cracks and pits; or
	dentMM  = 0.015 // this, where it is more
	hairPX  = 1     // half the width of what sticks out of it and is cut off: hairs, dust, scratches in the resin
)

// sharpened is the border of the inside of a closed line, but within reach of the line by whether a pixel is more metal
// than resin. Dents of twice that many pixels are bridged.
func sharpened(v view, line []raster.Point, reach float64, dent int, signal signal) []raster.Point {
	m := raster.Fill(v.grey.W, v.grey.H, line)
	near := make([]bool, len(m.Pix))
	var band []int
	r := int(reach)
	for k := 0; k < len(line); k += max(r/3, 1) {
		p := line[k]
		value := signal(p)
		for y := max(int(p.Y)-r, 1); y <= min(int(p.Y)+r, m.H-2); y++ {
			for x := max(int(p.X)-r, 1); x <= min(int(p.X)+r, m.W-2); x++ {
				if i := y*m.W + x; !near[i] {
					near[i] = true
					band = append(band, i)
					m.Pix[i] = value(float64(x), float64(y)) > 0.5
				}
			}
		}
	}
	for _, grow := range []struct {
		times int
		to    bool
	}{{dent, true}, {dent + hairPX, false}, {hairPX, true}} {
		for k := range grow.times {
			m.Spread(band, grow.to, k%2 == 1)
		}
	}
	return raster.LongBorder(m, len(line)/2)
}

// signal reads the picture on a scale from the resin, 0, to the sleeve's metal, 1, both as seen nearby: the channels are
// weighed by how much they tell the two apart. The metal's tone is the median a little inside the line.
func (o *outline) signal(v view, g ground, line []raster.Point) signal {
	n := raster.Normals(line, 3)
	size := math.Sqrt(math.Abs(raster.Area(line)))
	depth := ringDepth * size
	weight := make([]float64, len(v.tone))
	sum, bright, step := 0., 0., 0.
	for c := range v.tone {
		var tone []float64
		base := 0.
		for i := 0; i < len(line); i += 4 {
			p := raster.Point{X: line[i].X - depth*n[i].X, Y: line[i].Y - depth*n[i].Y}
			tone = append(tone, v.tone[c].At(p.X, p.Y))
			base += g.at(c, v.picture(line[i]))
		}
		base /= float64(len(tone))
		o.sleeve[c] = subpixel.Percentile(tone, 50)
		weight[c] = o.sleeve[c] - base
		sum += weight[c] * weight[c]
		bright += o.sleeve[c]
		step += weight[c]
	}
	o.lightness = math.Max(1, math.Min(4, bright/math.Max(step, 1e-6)))
	for c := range weight {
		weight[c] /= sum
	}
	metal := raster.NewPlane(v.grey.W, v.grey.H)
	var base [groundTerms]float64
	for c, p := range v.tone {
		for i, t := range p.Pix {
			metal.Pix[i] += float32(weight[c]) * t
		}
		for k := range base {
			base[k] += weight[c] * g.coef[c][k]
		}
	}
	return func(near raster.Point) func(x, y float64) float64 {
		resin := dot(base, g.powers(v.picture(near)))
		return func(x, y float64) float64 { return metal.At(x, y) - resin }
	}
}
