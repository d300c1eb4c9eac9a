package overlay

import (
	"cmp"
	"image"
	"image/color"
	"math"
	"slices"

	"golang.org/x/image/draw"

	"crimprule/vision/record"
)

// The measures of a section's sheet, in its unit, of which the panel has sheetUnits at most, so that sheets of small and of
// large pictures look alike in print. What goes for the panel's width counts in pixels.
const (
	sheetWidth  = 1280 // of the panel, at least
	sheetMost   = 2600 // of the panel, at most
	sheetUnits  = 885  // of the panel, at most: then lettering is 6 points high where the sheet is 180 mm wide
	sheetColumn = 466  // for labels, on either side
	sheetGutter = 34   // between panel and labels, and more where dimension lines stand outside the panel
	sheetHeader = 108
	sheetStrip  = 30 // above the panel, and more where the crimp width's line stands there
	sheetBar    = 84 // below the panel, for the scale bar
	sheetBorder = 22
	sheetSmall  = 22.7 // text
	sheetLarge  = 26
)

// sheet is the drawing of a section: a light page to be printed, with the dimmed picture in its middle, what was found
// in it, dimension lines with their values at the rim, and below it a table, the legend and a scale bar.
type sheet struct {
	drawing
	large   faces
	right   record.Point // the part's x direction in the drawing, a unit vector: along the floor
	up      record.Point // the part's y direction
	results map[record.Key]record.Feature
	drawn   map[record.Key]bool // whose value stands at a dimension line, and so not in the table
}

func drawSection(src image.Image, rec record.Record) *image.RGBA {
	d, lengths := newSheet(src, rec)
	draw.Draw(d.img, d.img.Bounds(), image.NewUniform(page), image.Point{}, draw.Src)
	d.drawPicture()
	d.drawSurfaces()
	dims := d.dimensions(lengths)
	callouts := d.callouts(dims)
	d.drawLeaders(callouts)
	for _, dim := range dims {
		d.drawDimension(dim)
	}
	d.drawTips()
	for _, c := range callouts {
		d.drawCallout(c)
	}
	d.drawTitle()
	d.drawFoot()
	return d.img
}

// newSheet lays the sheet out and picks the lengths to be drawn.
func newSheet(src image.Image, rec record.Record) (*sheet, []record.Mark) {
	d := &sheet{drawing: drawing{src: src, rec: rec, marks: Drawable(rec.Marks)}, drawn: map[record.Key]bool{}, results: features(rec)}
	// The order of marks of different measurands means nothing, and must not show where their lines cross.
	slices.SortStableFunc(d.marks, func(a, b record.Mark) int { return cmp.Compare(a.Key, b.Key) })
	lengths := d.lengths()
	d.findFrame()
	d.layOut(lengths)
	return d, lengths
}

func features(rec record.Record) map[record.Key]record.Feature {
	all := map[record.Key]record.Feature{}
	if rec.Verdict != nil {
		for _, f := range rec.Verdict.Features {
			all[f.Key] = f
		}
	}
	return all
}

// layOut chooses crop, zoom and unit, and makes the canvas. Pictures are shown at their own size where that is between
// the least and the greatest width of the panel. Dimension lines that stand beside the panel get the room they need.
func (d *sheet) layOut(lengths []record.Mark) {
	d.crop = d.sectionCrop()
	w, h := float64(d.crop.Dx()), float64(d.crop.Dy())
	longer := math.Max(w, h)
	d.zoom = math.Min(math.Min(math.Max(1, sheetWidth/longer), sheetMost/longer), maxZoom)
	d.unit = math.Max(1, longer*d.zoom/sheetUnits)
	d.faces, d.large = newFaces(sheetSmall*d.unit), newFaces(sheetLarge*d.unit)
	size := image.Pt(max(1, int(math.Round(w*d.zoom))), max(1, int(math.Round(h*d.zoom))))
	d.panel = image.Rectangle{Max: size}
	over := d.overhang(lengths)
	// A narrow or flat crop still needs room for the title and for columns of labels.
	width, height := max(size.X, d.n(sheetUnits)), max(size.Y, d.n(640))
	left, right := over.Min.X+d.n(sheetColumn+sheetGutter), over.Max.X+d.n(sheetColumn+sheetGutter)
	top := over.Min.Y + d.n(sheetHeader+sheetStrip)
	at := image.Pt(left+(width-size.X)/2, top+(height-size.Y)/2)
	d.panel = image.Rectangle{Min: at, Max: at.Add(size)}
	d.foot = top + height + over.Max.Y + d.n(sheetBar)
	width += left + right
	d.canvas = canvas{image.NewRGBA(image.Rect(0, 0, width, d.foot+d.footHeight(width)))}
}

// overhang is how far dimension lines stand out of the panel: Min holds the room at the left and above, Max at the right
// and below. Absurd marks get none.
func (d *sheet) overhang(lengths []record.Mark) (room image.Rectangle) {
	most := d.n(200)
	reach := func(v float64) int { return min(max(int(math.Ceil(v)), 0), most) }
	for _, m := range d.dimensions(lengths) {
		for _, p := range []record.Point{m.a, m.b} {
			room.Min.X = max(room.Min.X, reach(-p.X))
			room.Min.Y = max(room.Min.Y, reach(-p.Y))
			room.Max.X = max(room.Max.X, reach(p.X-float64(d.panel.Max.X)))
			room.Max.Y = max(room.Max.Y, reach(p.Y-float64(d.panel.Max.Y)))
		}
	}
	return room
}

// sectionCrop is the section with room round it; the whole picture where nothing was found.
func (d *sheet) sectionCrop() image.Rectangle {
	picture := d.src.Bounds()
	var parts [][]record.Point
	for _, m := range d.marks {
		if m.Kind == record.MarkSleeve {
			parts = append(parts, m.Points)
		}
	}
	lo, hi, ok := bounds(parts)
	if !ok {
		return cropOf(picture, d.marks)
	}
	margin := math.Max(0.07*math.Max(hi.X-lo.X, hi.Y-lo.Y), 12)
	box := image.Rect(int(lo.X-margin), int(lo.Y-margin), int(hi.X+margin)+1, int(hi.Y+margin)+1).Add(picture.Min).Intersect(picture)
	if box.Empty() {
		return picture
	}
	return box
}

// findFrame takes the part's directions from its floor, else from its width, else from the picture.
func (d *sheet) findFrame() {
	d.right = record.Point{X: 1}
	for _, m := range d.marks {
		isWidth := m.Kind == record.MarkLength && m.Key == record.CrimpWidth
		if len(m.Points) < 2 || m.Kind != record.MarkFloor && !isWidth {
			continue
		}
		a, b := m.Points[0], m.Points[len(m.Points)-1]
		if length := math.Hypot(b.X-a.X, b.Y-a.Y); length > 0 {
			d.right = record.Point{X: (b.X - a.X) / length, Y: (b.Y - a.Y) / length}
			if m.Kind == record.MarkFloor {
				break
			}
		}
	}
	d.up = record.Point{X: d.right.Y, Y: -d.right.X}
}

// drawPicture shows the picture nearly without its colours and a little paler, and what is outside the part much paler,
// so that what is drawn stands out; a picture that was refused is shown as it is.
func (d *sheet) drawPicture() {
	draw.CatmullRom.Scale(d.img, d.panel, d.src, d.crop, draw.Src, nil)
	if len(d.rec.Retake) > 0 {
		return
	}
	const keep, dim, lift, veil = 0.3, 0.72, 42, 0.62
	part := d.partMask()
	for y := d.panel.Min.Y; y < d.panel.Max.Y; y++ {
		row := d.img.Pix[d.img.PixOffset(d.panel.Min.X, y):d.img.PixOffset(d.panel.Max.X, y)]
		for i := 0; i < len(row); i += 4 {
			r, g, b := float64(row[i]), float64(row[i+1]), float64(row[i+2])
			grey := (0.2126*r + 0.7152*g + 0.0722*b) * (1 - keep)
			white := 0.0
			if part != nil {
				white = veil * (1 - float64(part.RGBAAt(d.panel.Min.X+i/4, y).R)/255)
			}
			for k, v := range [3]float64{r, g, b} {
				v = (grey+keep*v)*dim + lift
				row[i+k] = uint8(v + white*(255-v))
			}
			row[i+3] = 255
		}
	}
}

// partMask is white where the part is, in the panel; nil where its outline is not known. Strands and cavity count too:
// where the wings are open the sleeve's outline runs round the cavity.
func (d *sheet) partMask() *image.RGBA {
	mask := canvas{image.NewRGBA(d.panel)}
	known := false
	for _, kind := range []record.MarkKind{record.MarkSleeve, record.MarkCavity, record.MarkStrand} {
		d.each(kind, func(_ record.Mark, p []record.Point) {
			mask.fill(p, image.NewUniform(page))
			known = known || kind == record.MarkSleeve
		})
	}
	if !known {
		return nil
	}
	return mask.img
}

// toSheet maps all points of a mark to the drawing.
func (d *sheet) toSheet(points []record.Point) []record.Point {
	result := make([]record.Point, len(points))
	for i, p := range points {
		result[i] = d.toPanel(p)
	}
	return result
}

// The colours of the page. Hues are those of Okabe and Ito's palette (see styles), some darkened for white paper.
var (
	page       = color.RGBA{0xff, 0xff, 0xff, 0xff}
	print1     = color.RGBA{0x14, 0x16, 0x1a, 0xff} // text and dimension lines
	print2     = color.RGBA{0x55, 0x5b, 0x64, 0xff} // names and remarks
	halo       = color.RGBA{0xff, 0xff, 0xff, 0xb0} // light rim of every line, so that it shows on dark ground
	sleeveHue  = color.RGBA{0x00, 0x72, 0xb2, 0xff}
	cavityHue  = color.RGBA{0xe6, 0x9f, 0x00, 0xff}
	voidHue    = color.RGBA{0xd5, 0x5e, 0x00, 0xff}
	voidGround = color.RGBA{0x30, 0x0c, 0x00, 0xff}
	crackHue   = color.RGBA{0xb8, 0x1c, 0x84, 0xff}
	rimHue     = color.RGBA{0x14, 0x16, 0x1a, 0xb0} // of strands
)
