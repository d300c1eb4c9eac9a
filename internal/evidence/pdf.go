package evidence

import (
	"fmt"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// pdf writes the PDF: a cover with the summary and the cautions, the crimps in the order of what must be done, and the
// tolerances in full.
func (f folder) pdf(b *book) error {
	return f.file("evidence.pdf", func(w *output) error {
		s := newSheet(b.info)
		s.cover(b)
		s.crimps(b)
		s.failures(b)
		s.tolerances(b.info.Tolerances)
		return s.pdf.Output(w)
	})
}

// cover is the summary and the cautions.
func (s *sheet) cover(b *book) {
	s.pdf.AddPage()
	h := b.info.head()
	s.heading(h.Title, 20)
	s.pairs([]fact{
		{"scanned", h.Source}, {"on", h.When}, {"by", h.Program},
		{"pictures", fmt.Sprintf("%d, of which %d could not be read and %d ask for a better one; %d other files were left alone",
			b.pictures, len(b.failures), b.refused, b.info.LeftAlone)},
	})
	for _, t := range b.info.Tolerances {
		s.pairs([]fact{{"judged by", wording.Clean(t.Name) + " (" + wording.Clean(t.File) + ", SHA-256 " + t.Hash + ")"}})
	}
	a := b.answer()
	s.heading(question, 14)
	s.paragraph(bold, 12, a.Head)
	for _, more := range a.More {
		s.paragraph(regular, bodySize, more)
	}
	s.heading(plural(len(b.rows), "crimp", "crimps"), 14)
	for _, c := range b.counts() {
		s.mark(c.Badge)
		s.paragraph(regular, bodySize, fmt.Sprintf("%d %s", c.N, c.Badge.Words))
	}
	s.yields(b)
	s.heading("Cautions", 14)
	for _, caution := range advice.Cautions() {
		s.paragraph(regular, smallSize, "– "+caution)
	}
}

// yields prints the yield over all crimps and by each part of the labels.
func (s *sheet) yields(b *book) {
	y := b.yield("", func(row) bool { return true })
	s.heading("Yield", 14)
	s.paragraph(regular, bodySize, fmt.Sprintf("All crimps: %s (%d of %d; %d not measured). The interval holds the true share with 95 %% confidence "+
		"(Clopper and Pearson). What was not measured or not judged is left out.", y.Text(), y.Conforming, y.Of, y.NotMeasured))
	for _, g := range b.groupings() {
		s.paragraph(bold, bodySize, "By "+g.Title)
		for _, one := range g.Shares {
			name := one.Name
			if name == "" {
				name = "(none named)"
			}
			s.paragraph(regular, smallSize, fmt.Sprintf("%s: %s (%d of %d; %d not measured)", name, one.Text(), one.Conforming, one.Of, one.NotMeasured))
		}
	}
}

// chapters of the PDF by result.
var chapters = map[record.Result]string{
	record.DoesNotConform: "To be made anew",
	record.NotMeasured:    "To be photographed again",
	record.NotProven:      "Not proven",
	"":                    "Not judged",
	record.Conforms:       "Conforming",
}

// keyValues is how many values a row of the PDF shows at most; the page and the CSV have all.
const keyValues = 6

// crimps prints one row a crimp, what must be done first in front.
func (s *sheet) crimps(b *book) {
	var chapter string
	s.pdf.AddPage()
	for _, r := range b.listed() {
		if title := chapters[r.Result]; title != chapter {
			chapter = title
			s.heading(fmt.Sprintf("%s: %d", title, b.results[r.Result]), 14)
		}
		s.crimp(r)
	}
}

// crimp prints the row of a crimp.
func (s *sheet) crimp(r row) {
	name := []string{r.Name}
	if r.Crew != "" {
		name = append(name, "crew "+r.Crew)
	}
	if r.Tool != "" {
		name = append(name, "tool "+r.Tool)
	}
	if r.Warnings > 0 {
		name = append(name, "contradictory, see its page")
	}
	result := []string{badgeOf(r.Result).Words}
	if r.Score != "" {
		result = append(result, "score "+r.Score)
	}
	values := []string{}
	if r.Worst != "" {
		values = append(values, r.Worst)
	}
	if r.Result != record.Conforms {
		values = append(values, "→ "+r.Do)
	}
	shownValues := r.Values[:min(len(r.Values), keyValues)]
	rest := strings.Join(shownValues, "; ")
	if more := len(r.Values) - len(shownValues); more > 0 {
		rest += fmt.Sprintf("; and %d more", more)
	}
	if rest != "" {
		values = append(values, rest)
	}
	s.row([]string{fmt.Sprint(r.Number), strings.Join(name, "\n"), strings.Join(result, "\n"), strings.Join(values, "\n")}, badgeOf(r.Result))
}

// failures lists the pictures that could not be read.
func (s *sheet) failures(b *book) {
	if len(b.failures) == 0 {
		return
	}
	s.heading("Pictures that could not be read", 14)
	for _, f := range b.failures {
		s.paragraph(regular, smallSize, f.File+": "+f.Reason)
	}
}

// tolerances prints the tolerances files as they were.
func (s *sheet) tolerances(all []Tolerances) {
	for _, t := range all {
		s.pdf.AddPage()
		s.heading("Tolerances: "+wording.Clean(t.Name), 14)
		s.paragraph(regular, smallSize, wording.Clean(t.File)+", SHA-256 "+t.Hash)
		for _, line := range strings.Split(strings.TrimRight(t.Text, "\n"), "\n") {
			s.paragraph(mono, smallSize, strings.ReplaceAll(strings.TrimRight(line, "\r"), "\t", "    "))
		}
	}
}
