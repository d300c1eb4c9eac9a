package grade

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"crimprule/internal/evidence"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

var pages = template.Must(evidence.Parts().Funcs(template.FuncMap{
	"badgeOf": badgeOf, "standing": standingBadge, "sheet": sheetName, "join": strings.Join, "score": func(v float64) string { return fmt.Sprintf("%.1f", v) },
	"title":    func(word string) string { return strings.ToUpper(word[:1]) + word[1:] },
	"notShown": func() string { return NotShown }, "wiresAreNoCrimps": func() string { return WiresAreNoCrimps },
	"crimpPage": func(number int) string { return "../" + evidence.CrimpPage(number) },
}).ParseFS(templates, "templates/*.html"))

// head is what stands over every page.
type head struct{ Title, Source, Program, When string }

func headOf(i evidence.Info) head {
	h := head{Title: wording.Clean(i.Title), Source: wording.Clean(i.Source), Program: wording.Clean(i.Program)}
	if !i.When.IsZero() {
		h.When = i.When.Format("2006-01-02 15:04 -07:00")
	}
	return h
}

// indexPage lists all trainees.
type indexPage struct {
	head
	Report
	MarkWords string
	FewCrimps string
	Caution   string
	BelowAlso []string
	InDoubt   []doubtLine
	NotListed string
	Gone      []goneLine
	// Whether any trainee judged crimps, or stripped wires: empty columns take the room of the others.
	AnyOwn, AnyWires bool
}

func newIndex(h head, r Report, below []string) indexPage {
	p := indexPage{head: h, Report: r, MarkWords: r.Mark.Words(), FewCrimps: FewCrimps(), Caution: Caution, BelowAlso: below, InDoubt: doubtLinesOf(r),
		NotListed: r.UnlistedWords()}
	for i, t := range r.Trainees {
		p.AnyOwn = p.AnyOwn || t.Agreement.Both() > 0
		p.AnyWires = p.AnyWires || len(t.Wires.Wires) > 0
		for _, m := range t.Missing {
			p.Gone = append(p.Gone, goneLine{t.Called(), sheetName(i, "html"), m.Words()})
		}
	}
	return p
}

// goneLine is a crimp of an earlier scan that is not among these pictures.
type goneLine struct{ Trainee, Sheet, Words string }

// doubtLine is a crimp whose pictures do not prove it.
type doubtLine struct{ Trainee, Sheet, Name, Page, Words string }

func doubtLinesOf(r Report) []doubtLine {
	var all []doubtLine
	for i, t := range r.Trainees {
		for _, c := range t.InDoubt() {
			all = append(all, doubtLine{t.Called(), sheetName(i, "html"), wording.Clean(c.Name), "../" + evidence.CrimpPage(c.Number), c.DoubtWords()})
		}
	}
	return all
}

// page is the sheet of a trainee, which page and PDF share.
type page struct {
	head
	Trainee
	Standing       badge
	Words          string
	Previous, Next string // pages of the neighbours
	PDF            string
	List, WireList []line
	Drawings       []drawing
	Failing        int // crimps, or wires, that the drawings are some of
	Chart          template.HTML
	Progress       string
	Own            string
	FewCrimps      string
	Caution        string
	BelowAlso      []string
	BelowMark      []string // crimps that conform with too few points
}

// line is a crimp in the list.
type line struct {
	Number      int
	Name, Date  string
	Page        string // seen from the sheet
	Badge       badge
	Score       string
	Own         string
	What        string
	Contradicts bool // own judgement against the program's
}

func newPage(h head, mark Mark, t Trainee, i, of int, below []string) page {
	p := page{
		head: h, Trainee: t, Standing: standingBadge(t, mark), Words: t.Words(mark), PDF: sheetName(i, "pdf"), Chart: chart(t.Days),
		Progress: t.ProgressWords(), Own: t.Agreement.Words(), FewCrimps: FewCrimps(), Caution: Caution, BelowAlso: below,
	}
	if i > 0 {
		p.Previous = sheetName(i-1, "html")
	}
	if i+1 < of {
		p.Next = sheetName(i+1, "html")
	}
	p.List, p.WireList = linesOf(t.Crimps), linesOf(t.Wires.Wires)
	for _, c := range t.Below(mark) {
		p.BelowMark = append(p.BelowMark, c.BelowWords(mark))
	}
	var worst []Crimp
	worst, p.Failing = t.Worst()
	for _, c := range worst {
		p.Drawings = append(p.Drawings, drawing{c.Number, wording.Clean(c.Name), wording.Clean(strings.Join(c.Faults, "; ")), "../" + evidence.CrimpPage(c.Number), c.Drawing})
	}
	return p
}

func linesOf(crimps []Crimp) []line {
	var list []line
	for _, c := range crimps {
		l := line{
			Number: c.Number, Name: wording.Clean(c.Name), Date: wording.Clean(c.Date), Page: "../" + evidence.CrimpPage(c.Number),
			Badge: badgeOf(c.Result), What: wording.Clean(c.Why), Score: "-",
		}
		switch {
		case c.CostMost != "":
			l.What = "too few points for the mark; what cost most: " + wording.Clean(c.CostMost)
		case c.Why == "":
			l.What = "nothing"
		}
		if c.HasScore() {
			l.Score = fmt.Sprintf("%.1f", c.Score)
		}
		if c.Own == record.Conforms || c.Own == record.DoesNotConform {
			l.Own = wording.Result(c.Own)
			l.Contradicts = c.Own != c.Result && (c.Result == record.Conforms || c.Result == record.DoesNotConform)
		}
		list = append(list, l)
	}
	return list
}

// drawing is an overlay that shows what does not conform.
type drawing struct {
	Number     int
	Name, What string
	Page       string // of the crimp, seen from the sheet
	File       string // in the evidence
}

// mostDrawings is how many are shown on a sheet.
const mostDrawings = 3

// Worst are the crimps that do not conform of which there is a drawing, and where there are none, such wires, with how many of
// them do not conform: first those that the named cause could explain, then those with the least score.
func (t Trainee) Worst() (worst []Crimp, of int) {
	for _, all := range []struct {
		crimps []Crimp
		said   Findings
	}{{t.Crimps, t.Findings}, {t.Wires.Wires, t.Wires.Findings}} {
		of = 0
		for _, c := range all.crimps {
			if c.Result == record.DoesNotConform {
				of++
			}
		}
		worst = slices.DeleteFunc(slices.Clone(all.crimps), func(c Crimp) bool { return c.Drawing == "" })
		slices.SortStableFunc(worst, func(a, b Crimp) int {
			ra, rb := all.said.rests(a.Faults), all.said.rests(b.Faults)
			switch {
			case ra && !rb:
				return -1
			case rb && !ra:
				return 1
			}
			return cmp.Compare(a.Score, b.Score)
		})
		if len(worst) > 0 {
			return worst[:min(len(worst), mostDrawings)], of
		}
	}
	return nil, of
}

// DrawingsHead stands over the drawings.
func (p page) DrawingsHead() string {
	text := "To look at together: what does not conform"
	if len(p.Drawings) < p.Failing {
		text += fmt.Sprintf(" (%d of %d shown)", len(p.Drawings), p.Failing)
	}
	return text
}

// HasOwn tells whether the trainee judged anything.
func (p page) HasOwn() bool { return p.Own != "" }

// The chart's own units: it is scaled to the width that the page has for it.
const (
	chartWidth, chartHeight          = 640.0, 210.0
	chartLeft, chartTop, chartBottom = 54.0, 12.0, 168.0
	chartSide                        = 48.0 // room for half a label beside the first and the last day
)

// chart draws the yield of each day with its interval, as SVG; nothing for less than two days. The table beside it says the
// same in numbers. Only numbers and escaped dates go into it.
func chart(days []Day) template.HTML {
	known := known(days)
	if len(known) < 2 {
		return ""
	}
	var b strings.Builder
	put := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	y := func(share float64) float64 { return round1(chartBottom - share*(chartBottom-chartTop)) }
	put(`<svg class="progress" viewBox="0 0 %g %g" role="img" aria-label="Yield by day with its interval; the table below has the numbers">`, chartWidth, chartHeight)
	for _, share := range []float64{0, 0.5, 1} {
		put(`<path class="grid" d="M%g %gH%g"/><text x="%g" y="%g" text-anchor="end">%g %%</text>`, chartLeft, y(share), chartWidth-6, chartLeft-6, y(share)+4, 100*share)
	}
	step := (chartWidth - chartLeft - 2*chartSide) / float64(len(known)-1)
	every := len(known)/6 + 1 // so many days share a label's room
	x := func(i int) float64 { return round1(chartLeft + chartSide + float64(i)*step) }
	for i, d := range known {
		put(`<path class="whisker" d="M%g %gV%gM%g %gh8M%g %gh8"/>`, x(i), y(d.Yield.Low), y(d.Yield.High), x(i)-4, y(d.Yield.Low), x(i)-4, y(d.Yield.High))
		if i%every == 0 {
			put(`<text x="%g" y="%g" text-anchor="middle">%s</text><text x="%g" y="%g" text-anchor="middle">%d of %d</text>`, x(i), chartBottom+18,
				template.HTMLEscapeString(wording.Clean(d.Date)), x(i), chartBottom+33, d.Yield.Conforming, d.Yield.Of)
		}
	}
	for i, d := range known {
		put(`<circle class="value" cx="%g" cy="%g" r="4.5"/>`, x(i), y(float64(d.Yield.Conforming)/float64(d.Yield.Of)))
	}
	put(`</svg>`)
	return template.HTML(b.String()) //nolint:gosec // see above
}
