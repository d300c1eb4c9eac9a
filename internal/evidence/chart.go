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

// drawChart draws a chart of a tool's values. Only text of our own and numbers go in unescaped.
func drawChart(title, unit string, c statistics.Chart, points []point, number func(float64) string) chartDrawing {
	unit = wording.Unit(unit)
	of := func(v float64) string { return strings.TrimSpace(number(v) + " " + unit) }
	label := func(what string, signals int) string {
		return fmt.Sprintf("%s, %s: %d points, %s", title, what, len(c.Values), plural(signals, "signal", "signals"))
	}
	ranges := 0
	for _, s := range c.Signals {
		if s.Kind == statistics.RangeBeyond {
			ranges++
		}
	}
	upper := newPlot(c.Values, c.Lower, c.Upper)
	upper.begin(label("single values", len(c.Signals)-ranges), "single values")
	upper.line(c.Upper, "limit", of(c.Upper))
	upper.line(c.Centre, "centre", of(c.Centre))
	upper.line(c.Lower, "limit", of(c.Lower))
	upper.course()
	upper.foot(points)
	for _, s := range c.Signals {
		if s.Kind == statistics.RangeBeyond {
			continue
		}
		for i := s.First; i <= s.Last; i++ {
			upper.signal(i, s.Kind)
		}
	}
	lower := newPlot(append([]float64{math.NaN()}, c.MovingRanges...), 0, c.RangeUpper)
	lower.begin(label("moving ranges", ranges), "steps from one to the next")
	lower.line(c.RangeUpper, "limit", of(c.RangeUpper))
	lower.line(c.MeanRange, "centre", of(c.MeanRange))
	lower.course()
	lower.foot(points)
	for _, s := range c.Signals {
		if s.Kind == statistics.RangeBeyond {
			lower.signal(s.Last, s.Kind)
		}
	}
	return chartDrawing{upper.end(), lower.end()}
}

// plot draws values over their index.
type plot struct {
	b         strings.Builder
	values    []float64
	low, high float64
}

// newPlot makes the plot high enough for all values and lines.
func newPlot(values []float64, lines ...float64) *plot {
	p := &plot{values: values, low: math.Inf(1), high: math.Inf(-1)}
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

// put writes text and numbers.
func (p *plot) put(parts ...any) { put(&p.b, parts...) }

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

func (p *plot) begin(label, heading string) {
	p.put(`<svg class="chart" role="img" viewBox="0 0 `, chartWidth, " ", chartHeight, `" aria-label="`, template.HTMLEscapeString(label), `">`,
		`<text x="`, plotLeft, `" y="13">`, heading, `</text>`)
}

func (p *plot) line(v float64, class, text string) {
	y := p.y(v)
	p.put(`<path class="`, class, `" d="M`, plotLeft, " ", y, "H", plotRight, `"/><text x="`, plotRight+4, `" y="`, y+4, `">`, template.HTMLEscapeString(text), `</text>`)
}

// course draws the values as a line and, where there are not too many, as dots.
func (p *plot) course() {
	p.put(`<path class="course" d="`)
	command := "M"
	for i, v := range p.values {
		if !math.IsNaN(v) {
			p.put(command, p.x(i), " ", p.y(v))
			command = "L"
		}
	}
	p.put(`"/>`)
	if len(p.values) > dotsUpTo {
		return
	}
	for i, v := range p.values {
		if !math.IsNaN(v) {
			p.put(`<circle class="dot" cx="`, p.x(i), `" cy="`, p.y(v), `" r="2"/>`)
		}
	}
}

// foot names the first and the last crimp.
func (p *plot) foot(points []point) {
	p.put(`<text x="`, plotLeft, `" y="`, plotBottom+22, `">crimp `, strconv.Itoa(points[0].crimp), `</text><text text-anchor="end" x="`, plotRight, `" y="`,
		plotBottom+22, `">crimp `, strconv.Itoa(points[len(points)-1].crimp), `</text>`)
}

// signal marks a point: a diamond where it lies beyond a limit, a square in a run, a triangle in a trend.
func (p *plot) signal(i int, kind statistics.SignalKind) {
	const r = signalSize
	x, y := p.x(i), p.y(p.values[i])
	switch kind {
	case statistics.Run:
		p.put(`<path class="signal" d="M`, x-r+1, " ", y-r+1, `h`, 2*r-2, `v`, 2*r-2, `h`, 2-2*r, `z"/>`)
	case statistics.Trend:
		p.put(`<path class="signal" d="M`, x, " ", y-r, `L`, x+r, " ", y+r-1, `H`, x-r, `z"/>`)
	default:
		p.put(`<path class="signal beyond" d="M`, x, " ", y-r-1, `L`, x+r+1, " ", y, `L`, x, " ", y+r+1, `L`, x-r-1, " ", y, `z"/>`)
	}
}

func (p *plot) end() template.HTML {
	p.put(`</svg>`)
	return template.HTML(p.b.String())
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
