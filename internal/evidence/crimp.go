package evidence

import (
	"fmt"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/site"
	"crimprule/internal/verdict"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// pager writes a page a crimp. It holds each crimp back until the next one is there, so that a page knows whether there
// is a next one.
type pager struct {
	out  folder
	book *book
	held *site.Crimp
}

func (p *pager) crimp(c site.Crimp) error {
	held := p.held
	p.held = &c
	if held == nil {
		return nil
	}
	return p.write(*held, c.Number)
}

// last writes the page of the last crimp.
func (p *pager) last() error {
	if p.held == nil {
		return nil
	}
	return p.write(*p.held, 0)
}

func (p *pager) write(c site.Crimp, next int) error {
	view := newCrimpPage(p.book.info, c)
	if c.Number > 1 {
		view.Previous = crimpFile(c.Number - 1)
	}
	if next > 0 {
		view.Next = crimpFile(next)
	}
	return p.out.file("crimps/"+crimpFile(c.Number), func(w *output) error { return pages.ExecuteTemplate(w, "crimp.html", view) })
}

// crimpFile is the name of a crimp's page in its folder.
func crimpFile(number int) string { return fmt.Sprintf("%04d.html", number) }

// Page is the crimp's page, seen from the list.
func (r row) Page() string { return "crimps/" + crimpFile(r.Number) }

// fact is a name with what goes with it.
type fact struct{ Name, Text string }

// crimpPage is the page of one crimp.
type crimpPage struct {
	head
	Number          int
	Name            string
	Previous, Next  string
	Badge           badge
	Score, Do       string
	Scored          bool
	What            string // it is, where it is no crimp to be used
	WhyName, Why    string // the feature that decided, or another reason
	Facts           []fact
	Doubts          []string
	Warnings        []string
	Pictures        []picturePart
	Elsewhere       []elsewherePart
	ElsewhereAdvice []advicePart
	Cautions        []string
}

// picturePart is one picture on the page.
type picturePart struct {
	Title             string
	File              string
	Original, Overlay string // paths in the evidence
	Badge             badge
	Failure           string
	Retake            []string
	Groups            []valueGroup
	Judged            bool
	Unmeasured        []fact
	Remarks           []fact
	Advice            []advicePart
	Facts             []fact
}

// valueGroup is a set of values that are read together.
type valueGroup struct {
	Title string
	Rows  []valueRow
}

// valueRow is one value against its limits.
type valueRow struct {
	Key, Name, Value, Limits, Note string
	Badge                          badge
	Bad                            bool // calls for action
	Bar                            bar
}

// advicePart is what is said of a feature that does not conform or is not proven.
type advicePart struct {
	Name   string
	Badge  badge
	Means  string
	Causes string
	Do     string
	Limit  string
}

// elsewherePart is a value measured with another instrument.
type elsewherePart struct {
	valueRow
	Who, When string
}

func newCrimpPage(info Info, c site.Crimp) crimpPage {
	r := newRow(c)
	p := crimpPage{head: info.head(), Number: c.Number, Name: r.Name, Badge: badgeOf(c.Result), Score: r.ScoreText(), Do: r.Do, Scored: r.Score != "",
		What: r.Kind.words(), WhyName: "Why", Why: r.Worst, Facts: labelFacts(c.Label), Cautions: advice.Below(measuredViews(c)...)}
	if c.Result == record.Conforms {
		p.WhyName = "Closest to its limits"
	}
	if r.Replaced != "" {
		p.What = strings.TrimPrefix(p.What+"; "+site.ReplacedText(r.Replaced), "; ")
	}
	for _, d := range c.Doubts {
		p.Doubts = append(p.Doubts, wording.Clean(d))
	}
	for _, w := range c.Warnings {
		p.Warnings = append(p.Warnings, wording.Clean(w))
	}
	for i, picture := range c.Pictures {
		part := newPicturePart(info, picture)
		if len(c.Pictures) > 1 {
			part.Title = fmt.Sprintf("Picture %d of %d: %s", i+1, len(c.Pictures), part.Title)
		}
		p.Pictures = append(p.Pictures, part)
	}
	for i, e := range c.Elsewhere {
		f, judged := verdict.ElsewhereFeature(c.ElsewhereVerdict, c.Elsewhere, i)
		row := newValueRow("", line{Key: e.Key, Value: &e.Value, Feature: f}, judged)
		if note := e.Remark(); note != "" {
			row.Note = wording.Clean(note)
		}
		p.Elsewhere = append(p.Elsewhere, elsewherePart{row, wording.Clean(e.Who), wording.Clean(e.When)})
	}
	if c.ElsewhereVerdict != nil {
		p.ElsewhereAdvice = adviceParts("", *c.ElsewhereVerdict)
	}
	return p
}

// measuredViews are the views that a crimp was measured in.
func measuredViews(c site.Crimp) []record.View {
	var views []record.View
	for _, p := range c.Pictures {
		if p.Usable() {
			views = append(views, p.Record.View)
		}
	}
	return views
}

func labelFacts(l site.Label) []fact {
	return facts("string", l.String, "crimp", l.Crimp, "crew", l.Crew, "tool", l.Tool, "trainee", l.Trainee, "made on", l.Date,
		"maker's own judgement", wording.Result(l.Own), "note", l.Note)
}

// facts pairs names with texts and leaves out those without a text.
func facts(pairs ...string) []fact {
	var all []fact
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			all = append(all, fact{pairs[i], wording.Clean(pairs[i+1])})
		}
	}
	return all
}

func newPicturePart(info Info, p site.Picture) picturePart {
	part := picturePart{File: wording.Clean(p.File), Original: p.Original, Overlay: p.Overlay, Title: "picture that could not be read"}
	part.Facts = facts("file", p.File, "how it is known which crimp it shows", origins[p.Origin], "SHA-256", p.SHA256, "measured", moment(p.Measured),
		"measured by", info.Program)
	if p.Record == nil {
		part.Failure = wording.Clean(p.Failure)
		return part
	}
	rec := *p.Record
	part.Title = wording.View(rec.View)
	part.Facts = append(part.Facts, recordFacts(rec)...)
	for _, t := range info.Tolerances {
		if t.Hash == p.Tolerances && p.Tolerances != "" {
			part.Facts = append(part.Facts, fact{"tolerances", wording.Clean(t.Name) + " (" + wording.Clean(t.File) + ", " + t.short() + ")"})
		}
	}
	if rec.Verdict != nil {
		part.Badge, part.Judged = badgeOf(rec.Verdict.Result), true
	}
	for _, reason := range rec.Retake {
		part.Retake = append(part.Retake, wording.Clean(reason))
	}
	if p.Refused() {
		return part
	}
	part.values(rec)
	part.remarks(rec)
	if rec.Verdict != nil {
		part.Advice = adviceParts(rec.View, *rec.Verdict)
	}
	return part
}

var origins = map[site.Origin]string{
	site.FromManifest: "the manifest says so", site.FromTag: "the tag in the picture says so", site.FromName: "its file's name says so",
	site.Assumed: "its place and its file's name say so", site.Alone: "nothing tells; it is taken for a crimp of its own",
}

// recordFacts says how the picture was taken and scaled.
func recordFacts(rec record.Record) []fact {
	all := facts("tag", rec.Tag, "taken", rec.Taken, "camera", rec.Camera)
	if s := rec.Scale; s != nil {
		text := fmt.Sprintf("%s, %.5f mm a pixel (± %.2g %%)", wording.Clean(s.Kind), s.MMPerPX, 100*s.URel)
		if s.MMPerPX < 0.01 {
			text = fmt.Sprintf("%s, %.4f µm a pixel (± %.2g %%)", wording.Clean(s.Kind), 1000*s.MMPerPX, 100*s.URel)
		}
		if s.TiltDeg > 0 {
			text += fmt.Sprintf(", camera tilted by %.1f°", s.TiltDeg)
		}
		all = append(all, fact{"scale", text})
	}
	return all
}

// values fills in the table of values and the list of what could not be measured; equal reasons share a line.
func (part *picturePart) values(rec record.Record) {
	lines := map[record.Key]line{}
	var keys []record.Key
	var reasons []string
	names := map[string][]string{}
	for _, l := range linesOf(rec) {
		if l.Value != nil || l.Feature.Key != "" {
			lines[l.Key] = l
			keys = append(keys, l.Key)
		}
		if l.Value == nil && l.Reason != "" {
			if names[l.Reason] == nil {
				reasons = append(reasons, l.Reason)
			}
			names[l.Reason] = append(names[l.Reason], wording.Name(rec.View, l.Key))
		}
	}
	for _, g := range wording.Groups(rec.View, keys) {
		group := valueGroup{Title: g.Title}
		for _, key := range g.Keys {
			group.Rows = append(group.Rows, newValueRow(rec.View, lines[key], lines[key].Feature.Key != ""))
		}
		part.Groups = append(part.Groups, group)
	}
	for _, reason := range reasons {
		part.Unmeasured = append(part.Unmeasured, fact{strings.Join(names[reason], "; "), wording.Clean(reason)})
	}
}

func newValueRow(view record.View, l line, judged bool) valueRow {
	row := valueRow{Key: string(l.Key), Name: wording.Name(view, l.Key), Value: "–"}
	if l.Value != nil {
		row.Value = shown(*l.Value)
	}
	if judged {
		f := l.Feature
		row.Badge, row.Bad = badgeOf(f.Result), f.Result != record.Conforms
		row.Limits = limitsText(f)
		row.Note = wording.Clean(f.Note)
		row.Bar = newBar(l)
	}
	return row
}

// remarks fills in what only sections have, and the notes.
func (part *picturePart) remarks(rec record.Record) {
	add := func(name, text string) { part.Remarks = append(part.Remarks, fact{name, text}) }
	if rec.Voids != nil {
		add("voids", wording.Voids(*rec.Voids))
	}
	if len(rec.Cracks) > 0 {
		add("cracks", wording.Cracks(rec.Cracks))
	}
	if rec.CompactionReference != nil {
		add("compaction", wording.Reference(*rec.CompactionReference))
	}
	for _, note := range rec.Notes {
		add("note", wording.Clean(note))
	}
}

// adviceParts tells what each failed or doubtful feature means. Features that were not measured share one part, since
// their reasons stand above and what to do is the same.
func adviceParts(view record.View, v record.Verdict) []advicePart {
	var parts []advicePart
	var silent []string
	for _, f := range v.Features {
		switch {
		case f.Result == record.Conforms:
		case f.Result == record.NotMeasured:
			silent = append(silent, wording.Name(view, f.Key))
		case f.Advice != nil:
			parts = append(parts, advicePart{wording.Name(view, f.Key), badgeOf(f.Result), f.Advice.Means,
				strings.Join(f.Advice.Causes, "; "), f.Advice.Do, wording.Clean(f.Note)})
		}
	}
	if len(silent) > 0 {
		parts = append(parts, advicePart{Name: strings.Join(silent, "; "), Badge: badgeOf(record.NotMeasured),
			Means: "Nothing is known of this, neither good nor bad.", Do: advice.Unmeasured(view)})
	}
	return parts
}
