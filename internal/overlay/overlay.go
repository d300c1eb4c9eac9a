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

// The drawing's measures, in its own pixels.
const (
	panelWidth  = 1400 // the part's surroundings, at most
	panelHeight = 900
	leastHeight = 600 // room for a column of labels beside a flat crop
	column      = 380 // for labels, on either side
	header      = 76
	footer      = 250
	labelHeight = 46
	border      = 16
	textSize    = 16
	maxZoom     = 6 // beyond it the picture's pixels are seen, and nothing else
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
}

// Draw gives a drawing of the record over the picture that it was measured in. src is the upright picture and stays
// as it is; the record's marks count in its pixels, (0, 0) being the centre of the top left one.
func Draw(src image.Image, rec record.Record) *image.RGBA {
	if rec.View == record.Section {
		return drawSection(src, rec)
	}
	d := drawing{faces: newFaces(textSize), src: src, rec: rec, marks: Drawable(rec.Marks)}
	d.layOut()
	draw.Draw(d.img, d.img.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
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
	height := max(size.Y, leastHeight)
	// The panel never is narrower than the footer needs.
	width := max(size.X, 620)
	at := image.Pt(column+(width-size.X)/2, header+(height-size.Y)/2)
	d.panel = image.Rectangle{Min: at, Max: at.Add(size)}
	d.canvas = canvas{image.NewRGBA(image.Rect(0, 0, width+2*column, header+height+footer))}
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
			s := styleOf(m.Kind)
			if s.order != order {
				continue
			}
			points := make([]record.Point, len(m.Points))
			for i, p := range m.Points {
				points[i] = to(p)
			}
			drawMark(on, m.Kind, points, s)
		}
	}
}

func drawMark(on canvas, kind record.MarkKind, points []record.Point, s style) {
	switch kind {
	case record.MarkScale:
		for _, p := range points {
			on.cross(p, 5, s)
		}
	case record.MarkMiss:
		on.line(append(points[:len(points):len(points)], points[0]), s)
	case record.MarkLength:
		on.dimension(points[0], points[len(points)-1], s)
	default:
		on.line(points, s)
	}
}

func (c canvas) cross(p record.Point, r float64, s style) {
	parts := [][]record.Point{{{X: p.X - r, Y: p.Y}, {X: p.X + r, Y: p.Y}}, {{X: p.X, Y: p.Y - r}, {X: p.X, Y: p.Y + r}}}
	c.stroke(parts, s.width+2, casing)
	c.stroke(parts, s.width, s.hue)
}

// dimension draws a length as draughtsmen do: a line between two square end strokes.
func (c canvas) dimension(a, b record.Point, s style) {
	const tick = 9
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
	c.stroke(seen, s.width+2, casing)
	c.stroke(seen, s.width, s.hue)
}

func (d *drawing) drawLabels() {
	all := labels(d.rec, d.marks, d.toPanel)
	arrange(all, header, float64(d.img.Bounds().Dy()-footer), labelHeight)
	leader := style{hue: color.RGBA{0xff, 0xff, 0xff, 0xff}, width: 0.8}
	right := d.img.Bounds().Dx() - column
	for _, l := range all {
		x, edge := border, column-10
		bend := record.Point{X: column, Y: l.y}
		if !l.left {
			x, edge = right+10, right+10
			bend.X = float64(right)
		}
		d.line([]record.Point{{X: float64(edge), Y: l.y}, bend, l.anchor}, leader)
		d.line([]record.Point{l.anchor, l.anchor}, style{hue: styleOf(l.kind).hue, width: 6})
		d.drawLabel(l, x, column-10-border)
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
	}{{d.regular, faint, l.name}, {d.bold, ink, value}} {
		text := fitting(line.face, line.text, width)
		at := x
		if l.left {
			at = x + width - textWidth(line.face, text)
		}
		d.text(line.face, at, y-4+20*i, line.hue, text)
	}
}

func (d *drawing) drawHeader() {
	width := d.img.Bounds().Dx() - 2*border
	title := wording.Clean(filepath.Base(d.rec.Image))
	switch {
	case len(d.rec.Retake) > 0:
		title += ": NOT MEASURED, take the picture anew"
	case d.rec.Verdict != nil:
		title += fmt.Sprintf(": %s, score %.1f of 100", strings.ToUpper(wording.Result(d.rec.Verdict.Result)), d.rec.Verdict.Score)
	}
	d.text(d.bold, border, 30, ink, fitting(d.bold, title, width))
	line := wording.View(d.rec.View) + ", enlarged " + fmt.Sprintf("%.2g", d.zoom) + " times"
	if s := d.rec.Scale; s != nil {
		line += fmt.Sprintf("; scale from the %s: %.5f mm a pixel at the conductor's axis (± %.2g %%)", s.Kind, s.MMPerPX, 100*s.URel)
	}
	d.text(d.regular, border, 56, faint, fitting(d.regular, line, width))
}

// drawFooter draws the legend, why there are no values or those without a place, and the whole picture.
func (d *drawing) drawFooter() {
	top := d.img.Bounds().Dy() - footer + border
	present := map[record.MarkKind]bool{}
	for _, m := range d.marks {
		present[m.Kind] = true
	}
	y := top + 14
	for _, kind := range legendOrder {
		if !present[kind] {
			continue
		}
		a, b := record.Point{X: border + 4, Y: float64(y - 5)}, record.Point{X: border + 74, Y: float64(y - 5)}
		points := []record.Point{a, b}
		if kind == record.MarkScale {
			points = points[:1]
			points[0].X = (a.X + b.X) / 2
		}
		drawMark(d.canvas, kind, points, styleOf(kind))
		d.text(d.regular, border+88, y, ink, styleOf(kind).name)
		y += 30
	}
	inset := d.drawInset(top)
	y = top + 14
	left := column - 60
	d.drawOthers(left, inset.Min.X-2*border, top, d.img.Bounds().Dy()-border)
	for _, reason := range d.rec.Retake {
		for _, line := range broken(d.regular, "- "+wording.Clean(reason), inset.Min.X-2*border-left) {
			if y > top+footer-2*border {
				return // the record and the terminal have the rest
			}
			d.text(d.regular, left, y, ink, line)
			y += 22
		}
		y += 6
	}
}

// drawInset shows the whole picture with the panel's part framed, and gives the place that it takes.
func (d *drawing) drawInset(top int) image.Rectangle {
	b := d.src.Bounds()
	scale := math.Min(float64(footer-2*border)/float64(b.Dy()), 360/float64(b.Dx()))
	size := image.Pt(max(1, int(float64(b.Dx())*scale)), max(1, int(float64(b.Dy())*scale)))
	at := image.Pt(d.img.Bounds().Dx()-border-size.X, top)
	inset := image.Rectangle{Min: at, Max: at.Add(size)}
	draw.Draw(d.img, inset, imaging.Resize(d.src, size.X, size.Y, imaging.Box), image.Point{}, draw.Src)
	corner := func(x, y int) record.Point {
		return record.Point{X: float64(at.X) + float64(x-b.Min.X)*scale, Y: float64(at.Y) + float64(y-b.Min.Y)*scale}
	}
	c := d.crop
	d.line([]record.Point{corner(c.Min.X, c.Min.Y), corner(c.Max.X, c.Min.Y), corner(c.Max.X, c.Max.Y),
		corner(c.Min.X, c.Max.Y), corner(c.Min.X, c.Min.Y)}, style{hue: ink, width: 1.5})
	return inset
}
