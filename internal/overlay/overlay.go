// Package overlay draws what was measured into a copy of the picture, as evidence for a person: the part's
// surroundings, enlarged, with edges, scan lines, lengths and strands; every value at the rim, where it covers neither
// the crimp nor another value, with a line to its place; the whole picture small beside the legend. Sections get a light
// sheet of their own, to be printed (section.go). It is pure Go and knows only the record, not how it was measured.
package overlay

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/disintegration/imaging"
	"golang.org/x/image/draw"
	"golang.org/x/image/font"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// The measures of a drawing of a photo: those of the panel in pixels, the others in the drawing's unit, which is a pixel
// where the panel is unitWidth wide or less, and more in a wider one. So lettering is 6 points high or more where the
// drawing is printed as wide as an A4 page has room for (180 mm): 18 units of at most 1480.
const (
	panelWidth  = 1200 // the part's surroundings, at most
	panelHeight = 900
	maxZoom     = 6 // beyond it the picture's pixels are seen, and nothing else

	unitWidth   = 720
	leastWidth  = 620 // the foot needs it
	leastHeight = 660 // room for a column of labels beside a flat crop
	column      = 380 // for labels, on either side
	header      = 84
	footer      = 250 // at least
	labelHeight = 50
	border      = 16
	textSize    = 18
)

// drawing is one drawing in the making.
type drawing struct {
	canvas
	faces
	src   image.Image
	rec   record.Record
	marks []record.Mark
	crop  image.Rectangle // of the picture, shown in the panel
	panel image.Rectangle // of the drawing
	zoom  float64         // drawing pixels a picture pixel
	unit  float64         // drawing pixels a unit
	foot  int             // where the foot begins
}

// n gives a length in the drawing's unit in whole pixels.
func (d *drawing) n(units float64) int { return int(math.Round(units * d.unit)) }

// Draw gives a drawing of the record over the picture that it was measured in. src is the upright picture and stays
// as it is; the record's marks count in its pixels, (0, 0) being the centre of the top left one.
func Draw(src image.Image, rec record.Record) *image.RGBA {
	if rec.View == record.Section {
		return drawSection(src, rec)
	}
	d := drawing{src: src, rec: rec, marks: Drawable(rec.Marks)}
	d.layOut()
	draw.Draw(d.img, d.img.Bounds(), image.NewUniform(page), image.Point{}, draw.Src)
	draw.CatmullRom.Scale(d.img, d.panel, src, d.crop, draw.Src, nil)
	d.drawMarks(d.panelOnly(), d.toPanel)
	d.drawLabels()
	d.drawHeader()
	d.drawFooter()
	return d.img
}

// Encode writes the drawing as PNG: thin coloured lines and small text suffer in JPEG.
func Encode(w io.Writer, img image.Image) error {
	return (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, img)
}

// Drawable leaves out marks without a place: no points, or points that are no numbers or absurdly far away.
func Drawable(marks []record.Mark) []record.Mark {
	const far = 1e6
	var result []record.Mark
next:
	for _, m := range marks {
		for _, p := range m.Points {
			if !(math.Abs(p.X) < far && math.Abs(p.Y) < far) { // also true for NaN
				continue next
			}
		}
		if len(m.Points) > 0 {
			result = append(result, m)
		}
	}
	return result
}

// layOut chooses the crop and the zoom and makes the canvas.
func (d *drawing) layOut() {
	d.crop = cropOf(d.src.Bounds(), d.marks)
	w, h := float64(d.crop.Dx()), float64(d.crop.Dy())
	d.zoom = math.Min(math.Min(panelWidth/w, panelHeight/h), maxZoom)
	size := image.Pt(max(1, int(math.Round(w*d.zoom))), max(1, int(math.Round(h*d.zoom))))
	d.unit = math.Max(1, float64(size.X)/unitWidth)
	d.faces = newFaces(textSize * d.unit)
	width, height := max(size.X, d.n(leastWidth)), max(size.Y, d.n(leastHeight))
	at := image.Pt(d.n(column)+(width-size.X)/2, d.n(header)+(height-size.Y)/2)
	d.panel = image.Rectangle{Min: at, Max: at.Add(size)}
	d.foot = d.n(header) + height
	d.canvas = canvas{image.NewRGBA(image.Rect(0, 0, width+2*d.n(column), d.foot+d.n(d.footHeight())))}
}

// footHeight is what the foot needs for all values without a place, in units.
func (d *drawing) footHeight() float64 {
	return math.Max(footer, float64(2*border+otherHeight*len(others(d.rec, d.marks))))
}

// cropOf is the surroundings of the part: all marks but the scale's, with a margin; the whole picture where there are
// none.
func cropOf(picture image.Rectangle, marks []record.Mark) image.Rectangle {
	var parts [][]record.Point
	for _, m := range marks {
		if m.Kind != record.MarkScale {
			parts = append(parts, m.Points)
		}
	}
	lo, hi, ok := bounds(parts)
	if !ok {
		return picture
	}
	margin := math.Max(0.2*math.Max(hi.X-lo.X, hi.Y-lo.Y), 40)
	box := image.Rect(int(lo.X-margin), int(lo.Y-margin), int(hi.X+margin)+1, int(hi.Y+margin)+1).
		Add(picture.Min).Intersect(picture)
	if box.Empty() {
		return picture
	}
	return box
}

// toPanel maps a place in the picture to the drawing. Whole numbers are centres of pixels in both.
func (d *drawing) toPanel(p record.Point) record.Point {
	min := d.src.Bounds().Min
	return record.Point{
		X: float64(d.panel.Min.X) + (p.X+float64(min.X-d.crop.Min.X)+0.5)*d.zoom - 0.5,
		Y: float64(d.panel.Min.Y) + (p.Y+float64(min.Y-d.crop.Min.Y)+0.5)*d.zoom - 0.5,
	}
}

// panelOnly is a canvas that ends at the panel's rim.
func (d *drawing) panelOnly() canvas { return canvas{d.img.SubImage(d.panel).(*image.RGBA)} }

func (d *drawing) drawMarks(on canvas, to func(record.Point) record.Point) {
	for order := 0; order <= styles[record.MarkLength].order; order++ {
		for _, m := range d.marks {
			s := styleOf(m.Kind).scaled(d.unit)
			if s.order != order {
				continue
			}
			points := make([]record.Point, len(m.Points))
			for i, p := range m.Points {
				points[i] = to(p)
			}
			d.drawMark(on, m.Kind, points, s)
		}
	}
}

func (d *drawing) drawMark(on canvas, kind record.MarkKind, points []record.Point, s style) {
	switch kind {
	case record.MarkScale:
		for _, p := range points {
			on.cross(p, 5*d.unit, s)
		}
	case record.MarkMiss:
		on.line(append(points[:len(points):len(points)], points[0]), s)
	case record.MarkLength:
		on.dimension(points[0], points[len(points)-1], 9*d.unit, s)
	default:
		on.line(points, s)
	}
}

func (c canvas) cross(p record.Point, r float64, s style) {
	parts := [][]record.Point{{{X: p.X - r, Y: p.Y}, {X: p.X + r, Y: p.Y}}, {{X: p.X, Y: p.Y - r}, {X: p.X, Y: p.Y + r}}}
	c.stroke(parts, s.width+rim(s), casing)
	c.stroke(parts, s.width, s.hue)
}

// dimension draws a length as draughtsmen do: a line between two square end strokes that stand out by a tick.
func (c canvas) dimension(a, b record.Point, tick float64, s style) {
	parts := [][]record.Point{{a, b}}
	if length := math.Hypot(b.X-a.X, b.Y-a.Y); length > 0 {
		nx, ny := -(b.Y-a.Y)/length*tick, (b.X-a.X)/length*tick
		for _, p := range []record.Point{a, b} {
			parts = append(parts, []record.Point{{X: p.X - nx, Y: p.Y - ny}, {X: p.X + nx, Y: p.Y + ny}})
		}
	}
	var seen [][]record.Point
	for _, part := range parts {
		seen = append(seen, clipped(part, c.img.Bounds().Inset(-20))...)
	}
	c.stroke(seen, s.width+rim(s), casing)
	c.stroke(seen, s.width, s.hue)
}

func (d *drawing) drawLabels() {
	all := labels(d.rec, d.marks, d.toPanel)
	arrange(all, d.unit*header, float64(d.foot), labelHeight*d.unit)
	side, gap := d.n(column), d.n(10)
	right := d.img.Bounds().Dx() - side
	for _, l := range all {
		x, edge := d.n(border), side-gap
		bend := record.Point{X: float64(side), Y: l.y}
		if !l.left {
			x, edge = right+gap, right+gap
			bend.X = float64(right)
		}
		leader := [][]record.Point{{{X: float64(edge), Y: l.y}, bend, l.anchor}}
		d.stroke(leader, 2.8*d.unit, halo)
		d.stroke(leader, 1*d.unit, print2)
		d.stroke([][]record.Point{{l.anchor, l.anchor}}, 9*d.unit, print1)
		d.stroke([][]record.Point{{l.anchor, l.anchor}}, 6*d.unit, styleOf(l.kind).hue)
		d.drawLabel(l, x, side-gap-d.n(border))
	}
}

// drawLabel writes the two lines of a label from x on, in width pixels.
func (d *drawing) drawLabel(l label, x, width int) {
	y := int(math.Round(l.y))
	value := l.value
	if l.result != "" {
		value += "  " + wording.Result(l.result)
	}
	for i, line := range []struct {
		face font.Face
		hue  color.RGBA
		text string
	}{{d.regular, print2, l.name}, {d.bold, print1, value}} {
		text := fitting(line.face, line.text, width)
		at := x
		if l.left {
			at = x + width - textWidth(line.face, text)
		}
		d.text(line.face, at, y+d.n(-4+22*float64(i)), line.hue, text)
	}
}

func (d *drawing) drawHeader() {
	left := d.n(border)
	width := d.img.Bounds().Dx() - 2*left
	title := wording.Clean(filepath.Base(d.rec.Image))
	switch {
	case len(d.rec.Retake) > 0:
		title += ": NOT MEASURED, take the picture anew"
	case d.rec.Verdict != nil:
		title += fmt.Sprintf(": %s, score %.1f of 100", strings.ToUpper(wording.Result(d.rec.Verdict.Result)), d.rec.Verdict.Score)
	}
	d.text(d.bold, left, d.n(32), print1, fitting(d.bold, title, width))
	line := wording.View(d.rec.View) + ", enlarged " + fmt.Sprintf("%.2g", d.zoom) + " times"
	if s := d.rec.Scale; s != nil {
		line += fmt.Sprintf("; scale from the %s: %.5f mm a pixel at the conductor's axis (± %.2g %%)", s.Kind, s.MMPerPX, 100*s.URel)
	}
	d.text(d.regular, left, d.n(60), print2, fitting(d.regular, line, width))
	d.rule(d.n(header) - 1)
}

// drawFooter draws the legend, why there are no values or those without a place, and the whole picture.
func (d *drawing) drawFooter() {
	d.rule(d.foot)
	top := d.foot + d.n(border)
	present := map[record.MarkKind]bool{}
	for _, m := range d.marks {
		present[m.Kind] = true
	}
	y := top + d.n(14)
	for _, kind := range legendOrder {
		if !present[kind] {
			continue
		}
		at := func(x float64) record.Point { return record.Point{X: float64(d.n(border + x)), Y: float64(y - d.n(5))} }
		points := []record.Point{at(4), at(74)}
		if kind == record.MarkScale {
			points = []record.Point{at(39)}
		}
		d.drawMark(d.canvas, kind, points, styleOf(kind).scaled(d.unit))
		d.text(d.regular, d.n(border+88), y, print1, styleOf(kind).name)
		y += d.n(29)
	}
	inset := d.drawInset(top)
	y = top + d.n(14)
	left, right := d.n(column-95), inset.Min.X-2*d.n(border)
	d.drawOthers(left, right, top, d.img.Bounds().Dy()-d.n(border))
	for _, reason := range d.rec.Retake {
		for _, line := range broken(d.regular, "- "+wording.Clean(reason), right-left) {
			if y > d.img.Bounds().Dy()-d.n(border) {
				return // the record and the terminal have the rest
			}
			d.text(d.regular, left, y, print1, line)
			y += d.n(24)
		}
		y += d.n(6)
	}
}

// drawInset shows the whole picture with the panel's part framed, and gives the place that it takes.
func (d *drawing) drawInset(top int) image.Rectangle {
	b := d.src.Bounds()
	scale := math.Min(float64(d.n(footer-2*border))/float64(b.Dy()), d.unit*340/float64(b.Dx()))
	size := image.Pt(max(1, int(float64(b.Dx())*scale)), max(1, int(float64(b.Dy())*scale)))
	at := image.Pt(d.img.Bounds().Dx()-d.n(border)-size.X, top)
	inset := image.Rectangle{Min: at, Max: at.Add(size)}
	draw.Draw(d.img, inset, imaging.Resize(d.src, size.X, size.Y, imaging.Box), image.Point{}, draw.Src)
	corner := func(x, y int) record.Point {
		return record.Point{X: float64(at.X) + float64(x-b.Min.X)*scale, Y: float64(at.Y) + float64(y-b.Min.Y)*scale}
	}
	c := d.crop
	frame := [][]record.Point{{corner(c.Min.X, c.Min.Y), corner(c.Max.X, c.Min.Y), corner(c.Max.X, c.Max.Y),
		corner(c.Min.X, c.Max.Y), corner(c.Min.X, c.Min.Y)}}
	d.stroke(frame, 4.2*d.unit, halo)
	d.stroke(frame, 1.6*d.unit, print1)
	return inset
}
