package evidence

import (
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"crimprule/internal/advice"
	"crimprule/internal/wording"
)

var pages = template.Must(template.New("").Funcs(template.FuncMap{"clean": wording.Clean, "link": link, "driftMeaning": func() string { return driftMeaning }}).
	ParseFS(templates, "templates/*.html"))

// link is a path of the evidence as a URL relative to its folder: what has a meaning in URLs is escaped.
func link(path string) string {
	parts := strings.Split(path, "/")
	for i, part := range parts {
		parts[i] = url.PathEscape(part)
	}
	return strings.Join(parts, "/")
}

// head is what stands over every page.
type head struct {
	Title, Source, Program, When string
}

func (i Info) head() head {
	title := wording.Clean(i.Title)
	if title == "" {
		title = "Crimps"
	}
	return head{title, wording.Clean(i.Source), wording.Clean(i.Program), moment(i.When)}
}

// moment is a point in time as it is printed.
func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006-01-02 15:04 -07:00")
}

// listPage is the page with the list of all crimps.
type listPage struct {
	head
	Question   string
	Answer     answer
	Crimps     string // how many, and how many wires
	Pictures   string
	Counts     []count
	Yield      share
	Meaning    string
	Groups     []grouping
	Drifts     []toolDrift
	Lot        *LotJudgement
	Rows       []listRow
	Total      tally
	Filters    []filter
	Failures   []failure
	Refusals   []failure
	Notes      []string
	LeftAlone  []string
	Missing    missingPart
	Tolerances []Tolerances
	Cautions   []string
	Also       []Link
	Contacts   []contactSheet
}

// listRow is a crimp in the list.
type listRow struct {
	*row
	Place int // in the order of the names
}

// filter is a choice of names.
type filter struct {
	Name  string
	Names []string
}

// page writes the page with the list.
func (f folder) page(b *book) error {
	p := listPage{
		head: b.info.head(), Question: b.question(), Answer: b.answer(), Crimps: b.total().String(), Total: b.total(), Pictures: b.pictureText(),
		Meaning: yieldMeaning, Counts: b.counts(), Yield: b.yield("all", func(row) bool { return true }), Groups: b.groupings(),
		Drifts: b.toolDrifts(), Lot: b.lot(),
		Notes: b.notes(), LeftAlone: b.leftAlone(),
		Failures: b.failures, Refusals: b.refusals, Missing: missingPart{missingHead, missingMeaning, b.missing(), replacedHead, b.replacedTexts()}, Tolerances: b.info.Tolerances, Cautions: advice.CautionsFor(b.views...),
		Also: b.info.Also, Contacts: b.contactSheets(),
	}
	places := b.places()
	for _, r := range b.listed() {
		p.Rows = append(p.Rows, listRow{r, places[r.Number-1]})
	}
	p.Filters = b.filters()
	return f.file("index.html", func(w *output) error { return pages.ExecuteTemplate(w, "list.html", p) })
}

// filters are the choices of names, by string, crew, tool and trainee, as far as any crimp or wire has one.
func (b *book) filters() []filter {
	var all []filter
	for _, g := range named {
		var names []string
		for i := range b.rows {
			names = append(names, g.of(b.rows[i]))
		}
		slices.SortFunc(names, ByName)
		if names = slices.Compact(names); len(names) > 0 && names[0] != "" {
			all = append(all, filter{g.title, names})
		}
	}
	return all
}
