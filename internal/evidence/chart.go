package evidence

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"crimprule/internal/statistics"
	"crimprule/internal/wording"
)

// chartDrawing is a chart as two pictures side by side: the single values, and their moving ranges.
type chartDrawing struct{ Values, Ranges template.HTML }

// The measures of a chart in its own units; it is scaled to the width that the page has for it. The left margin holds
// nothing, the right one the numbers at the lines.
const (
	chartWidth, chartHeight = 360.0, 190.0
	plotLeft, plotTop       = 10.0, 22.0
	plotRight, plotBottom   = 300.0, 160.0
	dotsUpTo                = 150 // more points are a line only; signals are marked all the same
	signalSize              = 5.0
)

// chart is what a chart of a tool's values is drawn from, on a page or on paper.
type chart struct {
	title, unit string
	statistics.Chart
	points []point
	number func(float64) string // writes a value in the digits that the chart is worth
}

// draw draws the single values and their moving ranges with a pen each.
func (c *chart) draw(upper, lower pen) {
	of := func(v float64) string { return strings.TrimSpace(c.number(v) + " " + wording.Unit(c.unit)) }
	values := newPlot(upper, c.Values, c.Lower, c.Upper)
	values.begin("single values")
	values.line(c.Upper, "limit", of(c.Upper))
	values.line(c.Centre, "centre", of(c.Centre))
	values.line(c.Lower, "limit", of(c.Lower))
	values.course()
	values.foot(c.points)
	ranges := newPlot(lower, append([]float64{math.NaN()}, c.MovingRanges...), 0, c.RangeUpper)
	ranges.begin("steps from one to the next")
	ranges.line(c.RangeUpper, "limit", of(c.RangeUpper))
	ranges.line(c.MeanRange, "centre", of(c.MeanRange))
	ranges.course()
	ranges.foot(c.points)
	for _, s := range c.Signals {
		if s.Kind == statistics.RangeBeyond {
			ranges.signal(s.Last, s.Kind)
			continue
		}
		for i := s.First; i <= s.Last; i++ {
			values.signal(i, s.Kind)
		}
	}
}

// svg draws the chart for a page. Only text of our own and numbers go in unescaped.
func (c *chart) svg() chartDrawing {
	ranges := 0
	for _, s := range c.Signals {
		if s.Kind == statistics.RangeBeyond {
			ranges++
		}
	}
	label := func(what string, signals int) string {
		return fmt.Sprintf("%s, %s: %d points, %s", c.title, what, len(c.Values), plural(signals, "signal", "signals"))
	}
	upper := newSVG(label("single values", len(c.Signals)-ranges))
	lower := newSVG(label("moving ranges", ranges))
	c.draw(upper, lower)
	return chartDrawing{upper.end(), lower.end()}
}

// xy is a place in a chart, in its own units.
type xy struct{ x, y float64 }

// pen draws what a chart is made of. Classes: centre, limit, course, signal, "signal beyond".
type pen interface {
	text(at xy, end bool, text string) // end: it ends there
	path(class string, closed bool, points ...xy)
	dot(at xy)
}

// plot draws values over their index.
type plot struct {
	pen
	values    []float64
	low, high float64
}

// newPlot makes the plot high enough for all values and lines.
func newPlot(with pen, values []float64, lines ...float64) *plot {
	p := &plot{pen: with, values: values, low: math.Inf(1), high: math.Inf(-1)}
	for _, v := range append(lines, values...) {
		if !math.IsNaN(v) {
			p.low, p.high = math.Min(p.low, v), math.Max(p.high, v)
		}
	}
	if p.high <= p.low {
		p.high = p.low + 1
	}
	return p
}

func (p *plot) x(i int) float64 {
	return plotLeft + (plotRight-plotLeft)*(float64(i)+0.5)/float64(len(p.values))
}

func (p *plot) y(v float64) float64 {
	return plotBottom - (plotBottom-plotTop)*(v-p.low)/(p.high-p.low)
}

func (p *plot) begin(heading string) { p.text(xy{plotLeft, 13}, false, heading) }

func (p *plot) line(v float64, class, text string) {
	y := p.y(v)
	p.path(class, false, xy{plotLeft, y}, xy{plotRight, y})
	p.text(xy{plotRight + 4, y + 4}, false, text)
}

// course draws the values as a line and, where there are not too many, as dots.
func (p *plot) course() {
	var points []xy
	for i, v := range p.values {
		if !math.IsNaN(v) {
			points = append(points, xy{p.x(i), p.y(v)})
		}
	}
	p.path("course", false, points...)
	if len(p.values) > dotsUpTo {
		return
	}
	for _, at := range points {
		p.dot(at)
	}
}

// foot names the first and the last crimp.
func (p *plot) foot(points []point) {
	p.text(xy{plotLeft, plotBottom + 22}, false, "no. "+strconv.Itoa(points[0].crimp))
	p.text(xy{plotRight, plotBottom + 22}, true, "no. "+strconv.Itoa(points[len(points)-1].crimp))
}

// signal marks a point: a diamond where it lies beyond a limit, a square in a run, a triangle in a trend.
func (p *plot) signal(i int, kind statistics.SignalKind) {
	const r = signalSize
	x, y := p.x(i), p.y(p.values[i])
	switch kind {
	case statistics.Run:
		p.path("signal", true, xy{x - r + 1, y - r + 1}, xy{x + r - 1, y - r + 1}, xy{x + r - 1, y + r - 1}, xy{x - r + 1, y + r - 1})
	case statistics.Trend:
		p.path("signal", true, xy{x, y - r}, xy{x + r, y + r - 1}, xy{x - r, y + r - 1})
	default:
		p.path("signal beyond", true, xy{x, y - r - 1}, xy{x + r + 1, y}, xy{x, y + r + 1}, xy{x - r - 1, y})
	}
}

// svgPen draws for a page.
type svgPen struct{ b strings.Builder }

func newSVG(label string) *svgPen {
	p := &svgPen{}
	put(&p.b, `<svg class="chart" role="img" viewBox="0 0 `, chartWidth, " ", chartHeight, `" aria-label="`, template.HTMLEscapeString(label), `">`)
	return p
}

func (p *svgPen) text(at xy, end bool, text string) {
	put(&p.b, `<text`)
	if end {
		put(&p.b, ` text-anchor="end"`)
	}
	put(&p.b, ` x="`, at.x, `" y="`, at.y, `">`, template.HTMLEscapeString(text), `</text>`)
}

func (p *svgPen) path(class string, closed bool, points ...xy) {
	put(&p.b, `<path class="`, class, `" d="`)
	command := "M"
	for _, at := range points {
		put(&p.b, command, at.x, " ", at.y)
		command = "L"
	}
	if closed {
		put(&p.b, "z")
	}
	put(&p.b, `"/>`)
}

func (p *svgPen) dot(at xy) { put(&p.b, `<circle class="dot" cx="`, at.x, `" cy="`, at.y, `" r="2"/>`) }

func (p *svgPen) end() template.HTML {
	put(&p.b, `</svg>`)
	return template.HTML(p.b.String())
}

// put writes SVG: text as it is, numbers with a decimal.
func put(b *strings.Builder, parts ...any) {
	for _, part := range parts {
		switch part := part.(type) {
		case string:
			b.WriteString(part)
		case float64:
			b.WriteString(strconv.FormatFloat(math.Round(10*part)/10, 'f', -1, 64))
		}
	}
}

// Drawn is the share with its interval on a line from 0 to 100 %.
func (s share) Drawn() template.HTML {
	if s.Of == 0 {
		return ""
	}
	const width, middle = 160.0, 7.0
	at := func(v float64) float64 { return 4 + (width-8)*v }
	var b strings.Builder
	put(&b, `<svg class="interval" aria-hidden="true" viewBox="0 0 `, width, ` 14"><path class="axis" d="M4 `, middle, `H`, width-4, `M4 3v8M`, width/2, ` 3v8M`,
		width-4, ` 3v8"/><path d="M`, at(s.Low), ` `, middle, `H`, at(s.High), `M`, at(s.Low), ` 3v8M`, at(s.High), ` 3v8"/><circle r="3.5" cy="`, middle,
		`" cx="`, at(float64(s.Conforming)/float64(s.Of)), `"/></svg>`)
	return template.HTML(b.String())
}
