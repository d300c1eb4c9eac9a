package overlay

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/image/font"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// The foot's measures, in sheet units.
const (
	rowHeight  = 32
	lineHeight = 27
	legendPart = 560 // width of the legend
	leastFoot  = 300
)

// firstRows are the counts and ratios, which stand first in the table.
var firstRows = []record.Key{record.StrandCount, record.ConductorArea, record.Compaction, record.VoidRatio, record.Symmetry}

// rows are the measurands of the table: all that were measured or judged and have no dimension line.
func (d *sheet) rows() []record.Key {
	var keys []record.Key
	for _, key := range append(slices.Clone(firstRows), record.Keys(record.Section)...) {
		_, measured := d.rec.Measured[key]
		_, judged := d.results[key]
		if (measured || judged) && !d.drawn[key] && !slices.Contains(keys, key) && len(d.rec.Retake) == 0 {
			keys = append(keys, key)
		}
	}
	return keys
}

// remarks are the sentences below the table: what was found besides values, and what is not known, or why the picture
// was refused.
func (d *sheet) remarks() []string {
	var all []string
	for _, reason := range d.rec.Retake {
		all = append(all, "- "+wording.Clean(reason))
	}
	if len(all) > 0 {
		return all
	}
	if v := d.rec.Voids; v != nil {
		all = append(all, "Voids: "+wording.Voids(*v))
	}
	if len(d.rec.Cracks) > 0 {
		all = append(all, "Cracks: "+wording.Cracks(d.rec.Cracks))
	}
	if ref := d.rec.CompactionReference; ref != nil {
		all = append(all, "Compaction: "+wording.Reference(*ref))
	}
	for _, note := range d.rec.Notes {
		all = append(all, "Note: "+wording.Clean(note))
	}
	for _, key := range record.Keys(record.Section) {
		if reason := d.rec.Unmeasured[key]; reason != "" {
			all = append(all, "Not measured: "+wording.Name(d.rec.View, key)+": "+wording.Clean(reason))
		}
	}
	return all
}

func (d *sheet) remarkLines(width int) []string {
	var lines []string
	face, _ := d.remarkFace()
	for _, remark := range d.remarks() {
		lines = append(lines, broken(face, remark, width)...)
	}
	return lines
}

// remarkFace is larger for the reasons of a refusal, which are all that such a sheet has to say. The second value is the
// distance of lines, in sheet units.
func (d *sheet) remarkFace() (font.Face, float64) {
	if len(d.rec.Retake) > 0 {
		return d.large.regular, lineHeight * sheetLarge / sheetSmall
	}
	return d.regular, lineHeight
}

// tableWidth is the room of table and remarks beside the legend.
func (d *sheet) tableWidth(width int) int { return width - d.n(legendPart+3*sheetBorder) }

func (d *sheet) footHeight(width int) int {
	lines := float64(len(d.remarkLines(d.tableWidth(width))))
	_, height := d.remarkFace()
	least := leastFoot
	if len(d.rec.Retake) > 0 {
		least = 0 // there is no legend
	}
	return max(d.n(float64(len(d.rows())*rowHeight+2*sheetBorder+20)+lines*height), d.n(float64(least)))
}

// drawTitle writes what the sheet is of and its verdict.
func (d *sheet) drawTitle() {
	width := d.img.Bounds().Dx() - 2*d.n(sheetBorder)
	verdict := ""
	var result record.Result
	switch {
	case len(d.rec.Retake) > 0:
		verdict, result = "NOT MEASURED, take the picture anew", record.NotMeasured
	case d.rec.Verdict != nil:
		result = d.rec.Verdict.Result
		verdict = fmt.Sprintf("%s, score %.1f of 100", strings.ToUpper(wording.Result(result)), d.rec.Verdict.Score)
	}
	big := newFaces(30 * d.unit)
	taken := 0
	if verdict != "" {
		hue, known := resultHues[result]
		if !known {
			hue = print2
		}
		verdict = fitting(big.bold, verdict, width*2/3)
		taken = textWidth(big.bold, verdict) + d.n(50)
		right := d.img.Bounds().Dx() - d.n(sheetBorder)
		d.text(big.bold, right-taken+d.n(50), d.n(46), hue, verdict)
		d.badge(result, record.Point{X: float64(right-taken) + 24*d.unit, Y: 36 * d.unit}, 1.5, hue)
	}
	d.text(big.bold, d.n(sheetBorder), d.n(46), print1, fitting(big.bold, wording.Clean(filepath.Base(d.rec.Image)), width-taken-d.n(20)))
	d.text(d.regular, d.n(sheetBorder), d.n(82), print2, fitting(d.regular, d.subtitle(), width))
	d.rule(d.n(sheetHeader - 8))
}

func (d *sheet) subtitle() string {
	text := "Section of a crimp"
	if s := d.rec.Scale; s != nil {
		from := map[string]string{"known": "as declared", "bar": "from the drawn bar"}[s.Kind]
		if from == "" {
			from = "from the " + wording.Clean(s.Kind)
		}
		text += fmt.Sprintf("; scale %s: %.4f µm a pixel (± %.2g %%)", from, 1000*s.MMPerPX, 100*s.URel)
	}
	if v := d.rec.Verdict; v != nil && v.Tolerances != "" {
		text += "; judged by: " + wording.Clean(v.Tolerances)
	}
	return text
}

// drawFoot draws the table with its remarks, the legend and the scale bar.
func (d *sheet) drawFoot() {
	top := d.foot
	d.rule(top)
	y := top + d.n(sheetBorder+12)
	left, width := d.n(sheetBorder), d.tableWidth(d.img.Bounds().Dx())
	for _, key := range d.rows() {
		d.drawRow(key, left, y, width)
		y += d.n(rowHeight)
	}
	face, height := d.remarkFace()
	for _, line := range d.remarkLines(width) {
		d.text(face, left, y, print1, line)
		y += d.n(height)
	}
	if len(d.rec.Retake) > 0 {
		return
	}
	d.drawLegend(d.img.Bounds().Dx()-d.n(sheetBorder+legendPart), top+d.n(sheetBorder+12))
	d.drawScaleBar()
}

func (d *sheet) drawRow(key record.Key, x, y, width int) {
	name, value := d.n(360), d.n(290)
	d.text(d.regular, x, y, print2, fitting(d.regular, wording.Name(d.rec.View, key), name-d.n(10)))
	if v, ok := d.rec.Measured[key]; ok {
		d.text(d.large.bold, x+name, y, print1, fitting(d.large.bold, wording.Quantity(v), value-d.n(10)))
	} else {
		d.text(d.large.bold, x+name, y, print1, "-")
	}
	if f, ok := d.results[key]; ok {
		d.drawResult(f.Result, resultText(f), image.Pt(x+name+value, y), max(width-name-value, d.n(60)))
	}
}

// drawLegend explains the colours of strands by a bar, and lines and surfaces by a piece of each.
func (d *sheet) drawLegend(x, y int) {
	if scale, ok := newAreaScale(d.marks); ok {
		y = d.drawAreaBar(scale, x, y)
	}
	present := map[record.MarkKind]bool{}
	for _, m := range d.marks {
		present[m.Kind] = true
	}
	at := 0
	for _, item := range d.legend() {
		if !present[item.kind] {
			continue
		}
		ix, iy := x+at%2*d.n(legendPart/2), y+at/2*d.n(rowHeight)
		item.draw(record.Point{X: float64(ix), Y: float64(iy) - 6*d.unit})
		d.text(d.regular, ix+d.n(62), iy, print1, item.name)
		at++
	}
}

type legendItem struct {
	kind record.MarkKind
	name string
	draw func(at record.Point)
}

func (d *sheet) legend() []legendItem {
	line := func(hue color.RGBA, width float64, pattern []float64) func(record.Point) {
		return func(at record.Point) {
			d.drawOutline(d.canvas, []record.Point{at, {X: at.X + 50*d.unit, Y: at.Y}}, hue, width, pattern)
		}
	}
	return []legendItem{
		{record.MarkSleeve, "sleeve", line(sleeveHue, 2, nil)},
		{record.MarkCavity, "cavity", line(cavityHue, 1.5, []float64{9, 4})},
		{record.MarkVoid, "void", func(at record.Point) {
			p := func(x, y float64) record.Point { return record.Point{X: at.X + x*d.unit, Y: at.Y + y*d.unit} }
			d.drawVoid(d.canvas, []record.Point{p(2, -8), p(48, -8), p(48, 8), p(2, 8)})
		}},
		{record.MarkCrack, "crack", line(crackHue, 3.4, []float64{12, 5})},
		{record.MarkStrand, "border not all seen", func(at record.Point) { d.drawDoubt(record.Point{X: at.X + 25*d.unit, Y: at.Y}) }},
		{record.MarkFloor, "floor's line", line(print1, 1.3, []float64{20, 5, 4, 5})},
	}
}

// barGround is about what metal looks like in the dimmed picture, so that the legend shows the strands' true colours.
var barGround = color.RGBA{0xb0, 0xab, 0xa6, 0xff}

func (d *sheet) drawAreaBar(s areaScale, x, y int) int {
	d.text(d.regular, x, y, print1, fmt.Sprintf("area of a strand in mm² (median %s)", significant(s.median)))
	bar := image.Rect(x, y+d.n(10), x+d.n(legendPart-60), y+d.n(34))
	draw.Draw(d.img, bar, image.NewUniform(barGround), image.Point{}, draw.Src)
	for px := bar.Min.X; px < bar.Max.X; px++ {
		t := (float64(px-bar.Min.X) + 0.5) / float64(bar.Dx())
		column := image.Rect(px, bar.Min.Y, px+1, bar.Max.Y)
		draw.Draw(d.img, column, seeThrough(areaHue(t), strandAlpha), image.Point{}, draw.Over)
	}
	for i := range 5 {
		t := float64(i) / 4
		px := bar.Min.X + int(math.Round(t*float64(bar.Dx()-1)))
		d.stroke([][]record.Point{{{X: float64(px), Y: float64(bar.Max.Y)}, {X: float64(px), Y: float64(bar.Max.Y) + 6*d.unit}}}, 1.3*d.unit, print1)
		text := significant(s.median * (1 + s.spread*(2*t-1)))
		w := textWidth(d.regular, text)
		d.text(d.regular, max(px-w/2, x), bar.Max.Y+d.n(26), print1, text)
	}
	return bar.Max.Y + d.n(68)
}

// significant prints an area with three digits, and no exponent.
func significant(v float64) string {
	if !(v > 0) || math.IsInf(v, 0) {
		return fmt.Sprint(v)
	}
	return fmt.Sprintf("%.*f", min(max(0, 2-int(math.Floor(math.Log10(v)))), 9), v)
}

// drawScaleBar draws a bar of a round length below the panel; its length runs from outer end to outer end.
func (d *sheet) drawScaleBar() {
	s := d.rec.Scale
	if s == nil || !(s.MMPerPX > 0) || math.IsInf(s.MMPerPX, 0) {
		return
	}
	mm := roundLength(0.25 * float64(d.panel.Dx()) / d.zoom * s.MMPerPX)
	length := mm / s.MMPerPX * d.zoom
	text := fmt.Sprintf("%g mm", mm)
	if mm < 1 {
		text = fmt.Sprintf("%g µm", math.Round(mm*1e6)/1e3)
	}
	right := float64(d.panel.Max.X)
	top := float64(d.foot) - 38*d.unit
	p := func(x, y float64) record.Point { return record.Point{X: x - 0.5, Y: top + y*d.unit - 0.5} }
	d.fill([]record.Point{p(right-length, 0), p(right, 0), p(right, 8), p(right-length, 8)}, image.NewUniform(print1))
	d.text(d.large.bold, int(right-length)-textWidth(d.large.bold, text)-d.n(14), int(top+13*d.unit), print1, text)
}

// roundLength is the largest of 1, 2 and 5 times a power of ten that is not above the given length.
func roundLength(most float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(most)))
	for _, step := range []float64{5, 2} {
		if step*power <= most*(1+1e-9) {
			return step * power
		}
	}
	return power
}
