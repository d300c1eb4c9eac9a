package overlay

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/vector"

	"crimprule/vision/record"
)

// fill fills a closed polygon from a source of colours.
func (c canvas) fill(points []record.Point, src image.Image) {
	parts := [][]record.Point{points}
	lo, hi, ok := bounds(parts)
	if !ok {
		return
	}
	area := image.Rect(int(math.Floor(lo.X))-1, int(math.Floor(lo.Y))-1, int(math.Ceil(hi.X))+2, int(math.Ceil(hi.Y))+2).
		Intersect(c.img.Bounds())
	if area.Empty() {
		return
	}
	raster := vector.NewRasterizer(area.Dx(), area.Dy())
	polygon(raster, points, record.Point{X: float64(area.Min.X) - 0.5, Y: float64(area.Min.Y) - 0.5})
	raster.Draw(c.img, area, src, area.Min)
}

// hatch is a source of colours: slanting lines on a ground, in pixels of the drawing.
type hatch struct {
	line, ground  color.RGBA
	period, width int
}

func (h hatch) ColorModel() color.Model { return color.RGBAModel }
func (h hatch) Bounds() image.Rectangle { return image.Rect(-1e9, -1e9, 1e9, 1e9) }
func (h hatch) At(x, y int) color.Color {
	if (x+y)%h.period < h.width {
		return h.line
	}
	return h.ground
}

func seeThrough(c color.RGBA, alpha uint8) image.Image {
	return image.NewUniform(color.NRGBA{c.R, c.G, c.B, alpha})
}

// strandAlpha lets the metal's structure show through a strand's colour; the legend's bar is mixed the same way.
const strandAlpha = 0xa8

// drawSurfaces draws outlines and what fills them, the least important first.
func (d *sheet) drawSurfaces() {
	on := d.panelOnly()
	scale, _ := newAreaScale(d.marks)
	d.each(record.MarkStrand, func(m record.Mark, p []record.Point) {
		if scale.median > 0 {
			on.fill(p, seeThrough(scale.hue(m.Size), strandAlpha))
		}
		on.stroke([][]record.Point{closed(p)}, 1.1*d.unit, rimHue)
	})
	d.each(record.MarkVoid, func(_ record.Mark, p []record.Point) { d.drawVoid(on, p) })
	d.each(record.MarkStrand, func(m record.Mark, p []record.Point) {
		if m.Doubtful {
			d.drawDoubt(middleOf(p))
		}
	})
	d.each(record.MarkCavity, func(_ record.Mark, p []record.Point) { d.drawOutline(on, closed(p), cavityHue, 1.5, []float64{9, 4}) })
	d.each(record.MarkSleeve, func(_ record.Mark, p []record.Point) { d.drawOutline(on, closed(p), sleeveHue, 2, nil) })
	d.each(record.MarkFloor, func(_ record.Mark, p []record.Point) { d.drawFloorLine(p) })
	d.each(record.MarkCrack, func(_ record.Mark, p []record.Point) { d.drawOutline(on, p, crackHue, 3.4, []float64{12, 5}) })
}

func (d *sheet) each(kind record.MarkKind, do func(m record.Mark, points []record.Point)) {
	for _, m := range d.marks {
		if m.Kind == kind {
			do(m, d.toSheet(m.Points))
		}
	}
}

func closed(points []record.Point) []record.Point {
	return append(points[:len(points):len(points)], points[0])
}

func (d *sheet) drawVoid(on canvas, p []record.Point) {
	on.fill(p, hatch{voidHue, voidGround, max(d.n(7), 2), max(d.n(3.5), 1)})
	on.stroke([][]record.Point{closed(p)}, 3.4*d.unit, halo)
	on.stroke([][]record.Point{closed(p)}, 1.7*d.unit, voidHue)
}

// drawDoubt puts a question mark on a strand whose border could not be seen all round.
func (d *sheet) drawDoubt(at record.Point) {
	d.disc(at, 8.5, rimHue)
	d.disc(at, 7.5, page)
	w := textWidth(d.regular, doubtMark)
	d.text(d.regular, int(math.Round(at.X-float64(w)/2)), int(math.Round(at.Y+0.36*sheetSmall*d.unit)), print1, doubtMark)
}

const doubtMark = "?"

func middleOf(points []record.Point) record.Point {
	var m record.Point
	for _, p := range points {
		m.X += p.X / float64(len(points))
		m.Y += p.Y / float64(len(points))
	}
	return m
}

// drawOutline draws a line on a light rim, with a pattern in sheet units.
func (d *sheet) drawOutline(on canvas, points []record.Point, hue color.RGBA, width float64, pattern []float64) {
	var parts [][]record.Point
	for _, part := range clipped(points, on.img.Bounds().Inset(-20)) {
		if pattern == nil {
			parts = append(parts, part)
			continue
		}
		scaled := make([]float64, len(pattern))
		for i, v := range pattern {
			scaled[i] = v * d.unit
		}
		parts = append(parts, dashes(part, scaled)...)
	}
	on.stroke(parts, (width+1.6)*d.unit, halo)
	on.stroke(parts, width*d.unit, hue)
}

// drawFloorLine draws the floor's line a little beyond the part on either side.
func (d *sheet) drawFloorLine(p []record.Point) {
	if len(p) < 2 {
		return
	}
	a, b := p[0], p[len(p)-1]
	over := 26 * d.unit
	line := []record.Point{moveBy(a, d.right, -over), moveBy(b, d.right, over)}
	d.drawOutline(d.canvas, line, print1, 1.3, []float64{20, 5, 4, 5})
}

func moveBy(p, direction record.Point, by float64) record.Point {
	return record.Point{X: p.X + direction.X*by, Y: p.Y + direction.Y*by}
}

// drawTips names the wing tips, each on its own side of its tip, so that two tips that touch do not hide each other.
func (d *sheet) drawTips() {
	d.each(record.MarkTip, func(m record.Mark, p []record.Point) {
		letter, side := "L", -1.0
		if m.Key == record.WingTipFloorRight {
			letter, side = "R", 1
		}
		at := moveBy(moveBy(p[0], d.right, side*30*d.unit), d.up, 16*d.unit)
		if !image.Pt(int(at.X), int(at.Y)).In(d.panel.Inset(d.n(16))) {
			return
		}
		d.inked([][]record.Point{{p[0], at}}, 1.4)
		d.stroke([][]record.Point{{p[0]}}, 9*d.unit, halo)
		d.stroke([][]record.Point{{p[0]}}, 6*d.unit, print1)
		d.disc(at, 15, print1)
		d.disc(at, 13.2, page)
		w := textWidth(d.bold, letter)
		d.text(d.bold, int(math.Round(at.X-float64(w)/2)), int(math.Round(at.Y+0.36*sheetSmall*d.unit)), print1, letter)
	})
}

// disc fills a circle, its radius in sheet units.
func (d *sheet) disc(at record.Point, radius float64, hue color.RGBA) {
	const sides = 40
	points := make([]record.Point, sides)
	for i := range points {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		points[i] = record.Point{X: at.X + radius*d.unit*cos, Y: at.Y + radius*d.unit*sin}
	}
	d.fill(points, image.NewUniform(hue))
}

// inked draws lines in the colour of print on a light rim.
func (d *sheet) inked(parts [][]record.Point, width float64) {
	d.stroke(parts, (width+2.2)*d.unit, halo)
	d.stroke(parts, width*d.unit, print1)
}
