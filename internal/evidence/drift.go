package evidence

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/internal/tolerance"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// charted are the measurands in which a worn or misadjusted tool shows itself (common practice, no source): the symmetry
// of the wings, where the sleeve sits on the wire, and the crimp's height.
var charted = []measurand{
	{record.Seam, record.Symmetry}, {record.Seam, record.InsulationGapMean}, {record.Side, record.InsulationGapMean},
	{record.Side, record.SleeveWidth}, // the crimp's height, as it is called there
	{record.Section, record.Symmetry}, {record.Section, record.CrimpHeight}, {elsewhere, record.CrimpHeight},
}

// elsewhere stands in the place of a view for what was measured with another instrument.
const elsewhere record.View = ""

// chartPoints is how many crimps of a tool a chart needs.
const chartPoints = 8

// measurand is one of a view.
type measurand struct {
	view record.View
	key  record.Key
}

// title names it with where it was measured.
func (m measurand) title() string {
	if m.view == elsewhere {
		return wording.Name(m.view, m.key) + ", measured elsewhere"
	}
	return wording.Name(m.view, m.key) + ", " + wording.View(m.view)
}

// value is that of a crimp: of the first picture, or the first measurement elsewhere, that has it.
func (m measurand) value(c site.Crimp, name string) (point, bool) {
	if m.view == elsewhere {
		for _, e := range c.Elsewhere {
			if e.Key == m.key && e.NotJudged() == "" {
				return point{c.Number, name, e.Value.Value, e.Value.U, c.Label.Date, e.When}, true
			}
		}
		return point{}, false
	}
	for _, p := range c.Pictures {
		if p.Usable() && p.Record.View == m.view {
			if v, ok := p.Record.Measured[m.key]; ok {
				return point{c.Number, name, v.Value, v.U, c.Label.Date, p.Taken()}, true
			}
		}
	}
	return point{}, false
}

// point is a value of one crimp.
type point struct {
	crimp       int
	name        string // of the crimp
	value, u    float64
	made, taken string // when the crimp was made, and its picture taken, as far as it is known
}

// named is the crimp's name with its number in the list, by which the chart shows it.
func (p point) named() string {
	if p.name == "" {
		return fmt.Sprintf("no. %d", p.crimp)
	}
	return fmt.Sprintf("%s (no. %d)", p.name, p.crimp)
}

// drift gathers the values of each tool.
type drift struct {
	tools map[string]map[measurand][]point
}

// take notes a crimp's values, one a measurand; name is what the crimp is called, fit to be printed.
func (d *drift) take(c site.Crimp, name string) {
	if c.Label.Tool == "" {
		return
	}
	for _, m := range charted {
		if p, ok := m.value(c, name); ok && !math.IsNaN(p.value) && !math.IsInf(p.value, 0) {
			d.add(wording.Clean(c.Label.Tool), m, p)
		}
	}
}

func (d *drift) add(tool string, m measurand, p point) {
	if d.tools == nil {
		d.tools = map[string]map[measurand][]point{}
	}
	if d.tools[tool] == nil {
		d.tools[tool] = map[measurand][]point{}
	}
	d.tools[tool][m] = append(d.tools[tool][m], p)
}

// toolDrift is what the charts of a tool say.
type toolDrift struct {
	Tool   string
	Head   string // how many signals, and in what
	Series []series
	Short  []string // measurands that have too few values for a chart
}

// series is a chart with what it says in words.
type series struct {
	Title   string
	Order   string
	Head    string // whether there are signals
	Signals int
	Remarks []string
	Chart   chartDrawing
	data    *chart // what the chart is drawn from; nil where there is none
}

// toolDrifts draws up the charts, tool by tool.
func (b *book) toolDrifts() []toolDrift {
	names := make([]string, 0, len(b.drift.tools))
	for name := range b.drift.tools {
		names = append(names, name)
	}
	slices.SortFunc(names, ByName)
	var all []toolDrift
	for _, name := range names {
		t := toolDrift{Tool: name}
		for _, m := range charted {
			points := b.drift.tools[name][m]
			switch title := m.title(); {
			case len(points) == 0:
			case len(points) < chartPoints:
				t.Short = append(t.Short, fmt.Sprintf("%s: %s, and a chart needs %d", title, plural(len(points), "crimp", "crimps"), chartPoints))
			default:
				t.Series = append(t.Series, b.series(title, m, points))
			}
		}
		t.Head = t.head()
		all = append(all, t)
	}
	return all
}

// Name is what the tool is called.
func (t toolDrift) Name() string { return called("tool", t.Tool) }

// head says in a few words what the charts say.
func (t toolDrift) head() string {
	var speaking []string
	for _, s := range t.Series {
		if s.Signals > 0 {
			speaking = append(speaking, fmt.Sprintf("%s in %s", plural(s.Signals, "signal", "signals"), s.Title))
		}
	}
	switch {
	case len(speaking) > 0:
		return strings.Join(speaking, "; ")
	case len(t.Series) == 0:
		return "too few values for a chart"
	}
	return "no signal"
}

// Speaks tells whether a chart has a signal.
func (t toolDrift) Speaks() bool {
	return slices.ContainsFunc(t.Series, func(s series) bool { return s.Signals > 0 })
}

// series draws up one chart.
func (b *book) series(title string, m measurand, points []point) series {
	points, by := ordered(points)
	s := series{Title: title, Order: plural(len(points), "crimp", "crimps") + " " + by}
	values, us := make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		values[i], us[i] = p.value, p.u
	}
	course, err := statistics.IndividualsChart(values)
	if err != nil || course.MeanRange == 0 {
		s.Head = "There is no chart: the values do not differ, so that they say nothing of the tool."
		return s
	}
	number := func(v float64) string { text, _ := wording.Number(v, 2*course.Sigma); return text }
	s.data = &chart{title, m.key.Unit(), course, points, number}
	s.Chart = s.data.svg()
	s.Head = "No signal: the values vary as chance lets them."
	s.Signals = len(course.Signals)
	if n := s.Signals; n > 0 {
		s.Head = plural(n, "signal", "signals") + ": something other than chance was at work."
	}
	s.Remarks = signalTexts(course.Signals, points)
	s.Remarks = append(s.Remarks, b.course(m, course)...)
	if course.Few {
		s.Remarks = append(s.Remarks, fmt.Sprintf("The limits of the chart are rough: they stand on %d values, and %d or more are usual.",
			len(values), statistics.FewPoints))
	}
	if n := len(course.Blurred(us)); n > 0 {
		s.Remarks = append(s.Remarks, fmt.Sprintf("%d of %d values tell more of their measurement than of the tool: their uncertainty is larger than the tool's scatter.",
			n, len(values)))
	}
	return s
}

// mostNamed is how many crimps a remark names at most; the chart marks all.
const mostNamed = 12

// signalTexts says in words what the signals are: runs and trends one by one, single points and steps together.
func signalTexts(signals []statistics.Signal, points []point) []string {
	var all, above, under, steps []string
	for _, s := range signals {
		first, last := points[s.First].named(), points[s.Last].named()
		switch s.Kind {
		case statistics.Run:
			all = append(all, fmt.Sprintf("from %s to %s, %d in a row, all lie %s the centre", first, last, s.Last-s.First+1,
				pick(s.Up, "above", "below")))
		case statistics.Trend:
			all = append(all, fmt.Sprintf("from %s to %s the value %s %d times in a row", first, last,
				pick(s.Up, "rises", "falls"), s.Last-s.First))
		case statistics.RangeBeyond:
			steps = append(steps, first+" to "+last)
		default:
			if s.Up {
				above = append(above, first)
			} else {
				under = append(under, first)
			}
		}
	}
	if more := len(all) - mostNamed; more > 0 {
		all = append(all[:mostNamed], fmt.Sprintf("and %d more runs and trends", more))
	}
	for _, group := range []struct {
		what  string
		names []string
	}{
		{"above the control limit: ", above}, {"below the control limit: ", under},
		{"steps larger than chance lets them be: ", steps},
	} {
		if len(group.names) > 0 {
			text := group.what + strings.Join(group.names[:min(len(group.names), mostNamed)], ", ")
			if more := len(group.names) - mostNamed; more > 0 {
				text += fmt.Sprintf(" and %d more", more)
			}
			all = append(all, text)
		}
	}
	return all
}

func pick(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

// course says whether the values walk, and when they would meet a limit if they went on so.
func (b *book) course(m measurand, chart statistics.Chart) []string {
	if !chart.Drift.Sloped() {
		return nil
	}
	unit := wording.Unit(m.key.Unit())
	total := chart.Drift.Slope * float64(len(chart.Values)-1)
	value, _ := wording.Number(math.Abs(total), 2*chart.Sigma)
	text := fmt.Sprintf("Over these crimps the value walks %s by about %s", pick(total > 0, "up", "down"), value)
	if unit != "" {
		text += " " + unit
	}
	text += ", more than its scatter explains."
	remarks := []string{text}
	for _, limit := range b.limits(m) {
		bound := limit.Max
		if total < 0 {
			bound = limit.Min
		}
		if bound == nil {
			continue
		}
		n, ok := chart.Until(*bound)
		switch text := strconv.FormatFloat(*bound, 'f', -1, 64); {
		case !ok:
			remarks = append(remarks, fmt.Sprintf("The line through them has passed the limit of %s: stop, and look at the die.", text))
		case n < 10*float64(len(chart.Values)):
			remarks = append(remarks, fmt.Sprintf("If it went on so, it would meet the limit of %s after about %.0f more crimps: look at the die now.",
				text, math.Ceil(n)))
		}
	}
	return remarks
}

// limits are those of a measurand in all tolerances files.
func (b *book) limits(m measurand) []tolerance.Limit {
	var all []tolerance.Limit
	for _, t := range b.info.Tolerances {
		limits := t.Limits.Limits
		switch {
		case m.view == elsewhere:
			limits = t.Limits.Elsewhere
		case t.Limits.View != "" && t.Limits.View != m.view:
			continue
		}
		for _, l := range limits {
			if l.Key == m.key {
				all = append(all, l)
			}
		}
	}
	return all
}

// ordered sorts points by when the crimps were made, else by when their pictures were taken, else as they were scanned,
// and says which of them it was. A date counts only where every point has one.
func ordered(points []point) ([]point, string) {
	made, taken := true, true
	for _, p := range points {
		made = made && p.made != ""
		taken = taken && moments(p.taken) != ""
	}
	points = slices.Clone(points)
	by := "in the order of the scan"
	switch {
	case made:
		by = "in the order in which they were made"
	case taken:
		by = "in the order in which they were photographed or measured"
	}
	slices.SortStableFunc(points, func(a, b point) int {
		if made {
			if d := cmp.Compare(a.made, b.made); d != 0 {
				return d
			}
		}
		if taken {
			return cmp.Compare(moments(a.taken), moments(b.taken))
		}
		return 0
	})
	return points, by
}

// moments makes a point in time comparable as text: in UTC where its zone is known, else as the camera's clock had it.
func moments(taken string) string {
	const plain = "2006-01-02T15:04:05"
	if at, err := time.Parse(time.RFC3339, taken); err == nil {
		return at.UTC().Format(plain)
	}
	for _, layout := range []string{plain, time.DateOnly} {
		if at, err := time.Parse(layout, taken); err == nil {
			return at.Format(plain)
		}
	}
	return ""
}
