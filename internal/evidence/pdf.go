package evidence

import (
	"context"
	"fmt"
	"runtime/debug"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/paper"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// pdf writes the PDF: a cover with the summary and the cautions, the crimps in the order of what must be done, and the
// limits. The crimps are taken out of the book on the way.
func (f folder) pdf(ctx context.Context, b *book) error {
	// The library holds all pages, some 1.5 kB a crimp, until it writes them, and makes much garbage then.
	defer debug.SetGCPercent(debug.SetGCPercent(10))
	return f.file("evidence.pdf", func(w *output) error {
		s := newSheet(f, b.info)
		s.cover(b)
		if err := s.crimps(ctx, b); err != nil {
			return err
		}
		b.rows, b.drift = nil, drift{} // nothing below needs them, and what follows takes the most memory
		s.failures(b)
		s.leftAlone(b)
		s.tolerances(b.info.Tolerances)
		return s.End(w, "index.html, crimps.csv and records.jsonl have")
	})
}

// cover is the summary and the cautions.
func (s *sheet) cover(b *book) {
	h := b.info.head()
	s.AddPage()
	s.bookmark("Summary")
	s.Paragraph(paper.Bold, 20, h.Title)
	s.Ln(2)
	s.pairs([]fact{
		{"scanned", h.Source}, {"on", h.When}, {"by", h.Program}, {"pictures", b.pictureText()},
	})
	for _, t := range b.info.Tolerances {
		s.pairs([]fact{{"judged by", wording.Clean(t.Name) + " (" + wording.Clean(t.File) + ", SHA-256 " + t.Hash + "), see the end"}})
	}
	a := b.answer()
	s.Heading(question)
	s.Paragraph(paper.Bold, 13, a.Head)
	for _, more := range a.More {
		s.Paragraph(paper.Regular, paper.Body, more)
	}
	s.signature()
	s.Heading(b.total().String())
	for _, c := range b.counts() {
		s.badge(paper.Margin, s.GetY()+0.4, c.Badge.Class)
		s.SetX(paper.Margin + 7)
		s.Paragraph(paper.Bold, paper.Body, fmt.Sprintf("%d %s", c.N, c.Badge.Words)+c.Beside)
		s.Ln(0.8)
	}
	s.missing(b)
	if notes := b.notes(); len(notes) > 0 {
		s.Heading(notesHead)
		for _, note := range notes {
			s.item(note)
		}
	}
	s.yields(b)
	if lot := b.lot(); lot != nil {
		s.Heading("The lot")
		s.Paragraph(paper.Bold, paper.Body, lot.Head)
		for _, more := range lot.More {
			s.Paragraph(paper.Regular, paper.Small, more)
		}
	}
	s.drifts(b)
	s.Heading("Cautions")
	for _, caution := range advice.CautionsFor(b.views...) {
		s.item(caution)
	}
}

// pictureText accounts for the pictures.
func (b *book) pictureText() string {
	return fmt.Sprintf("%d, of which %d could not be read and %d ask for a better one; %s left alone",
		b.pictures, len(b.failures), b.refused, plural(len(b.info.LeftAlone), "other file was", "other files were"))
}

// missing lists the crimps that an earlier scan did not find to conform and whose pictures are gone.
func (s *sheet) missing(b *book) {
	if list := b.missing(); len(list) > 0 {
		s.Heading(missingHead)
		s.Paragraph(paper.Regular, paper.Small, missingMeaning)
		for _, m := range list {
			s.item(m.Name + ": " + m.Badge.Words + " on " + m.When)
		}
	}
	if texts := b.replacedTexts(); len(texts) > 0 {
		s.Heading(replacedHead)
		for _, text := range texts {
			s.item(text)
		}
	}
}

// yields prints the yield over all crimps and by each part of the labels.
func (s *sheet) yields(b *book) {
	y := b.yield("", func(row) bool { return true })
	s.Heading("Yield")
	s.Paragraph(paper.Bold, paper.Body, "All crimps: "+y.Full())
	s.Paragraph(paper.Regular, paper.Small, yieldMeaning)
	for _, g := range b.groupings() {
		s.Ln(1)
		s.Paragraph(paper.Bold, paper.Small, "By "+g.Title)
		for _, one := range g.Shares {
			name := one.Name
			if name == "" {
				name = "(none named)"
			}
			s.item(name + ": " + one.Full())
		}
	}
}

// drifts prints what the charts of the page say.
func (s *sheet) drifts(b *book) {
	tools := b.toolDrifts()
	if len(tools) == 0 {
		return
	}
	s.Heading("Drift of the tools")
	s.Paragraph(paper.Regular, paper.Small, "Charts of single values and moving ranges (ISO 7870-2); they are drawn in the page.")
	for _, t := range tools {
		s.Ln(1)
		s.Paragraph(paper.Bold, paper.Small, t.Name()+": "+t.Head)
		for _, one := range t.Series {
			s.item(one.Title + ", " + one.Order + ": " + one.Head)
			for _, remark := range one.Remarks {
				s.item("   " + remark)
			}
		}
		for _, short := range t.Short {
			s.item(short)
		}
	}
}

// chapters of the PDF by result.
var chapters = map[record.Result]string{
	record.DoesNotConform: "Does not conform: to be made anew",
	record.NotMeasured:    "Not measured: to be photographed again",
	record.NotProven:      "Not proven",
	"":                    "Not judged",
	record.Conforms:       "Conforming",
}

// crimps prints one row a crimp, what must be done first in front.
func (s *sheet) crimps(ctx context.Context, b *book) error {
	rows := b.listed()
	for i := range len(order) + 1 {
		title, t := "Replaced by crimps that were made anew", b.replaced
		if i < len(order) {
			title, t = chapters[order[i]], b.tallies[order[i]]
		}
		n := t.all()
		if n == 0 {
			continue
		}
		s.chapter(title, t)
		for _, r := range rows[:n] {
			if err := ctx.Err(); err != nil {
				return err
			}
			s.crimp(r)
		}
		rows = rows[n:]
	}
	s.endTable()
	return nil
}

// crimp prints the row of a crimp.
func (s *sheet) crimp(r *row) {
	who := r.Who()
	if what := r.Kind.words(); what != "" {
		who = append(who, what)
	}
	switch {
	case r.Doubt != "" && r.Doubt != r.Worst:
		who = append(who, "IN DOUBT: "+r.Doubt)
	case r.Doubt != "":
		who = append(who, "IN DOUBT")
	}
	if r.Warnings > 0 {
		who = append(who, "REMARK, see its page")
	}
	result := []string{badgeOf(r.Result).Words, "score " + r.ScoreText()}
	if r.Result != record.Conforms || r.Replaced != "" {
		result = append(result, r.Do)
	}
	worst := r.Worst
	if r.Value != "" {
		worst = strings.Replace(worst, r.Value, glued(r.Value), 1)
	}
	if r.Means != "" {
		worst += ". " + r.Means
	}
	s.row(tableRow{
		class: badgeOf(r.Result).Class, thumb: r.Thumb, pictured: r.Result != record.Conforms,
		cells: [4]cell{
			{text: fmt.Sprint(r.Number)}, {lead: r.Name, text: strings.Join(who, ", ")},
			{lead: result[0], text: strings.Join(result[1:], "\n")}, {lead: worst, text: r.Rest},
		},
	})
}

// glued keeps a value on one line.
func glued(text string) string { return strings.ReplaceAll(text, " ", "\u00a0") }

// failures lists the pictures that could not be read.
func (s *sheet) failures(b *book) {
	if len(b.failures) == 0 {
		return
	}
	if len(b.failures) > 5 || s.GetY() > paper.Bottom-60 {
		s.AddPage()
	}
	s.bookmark("Pictures that could not be read")
	s.Heading(fmt.Sprintf("Pictures that could not be read: %d", len(b.failures)))
	for _, f := range b.failures {
		s.item(f.File + ": " + f.Reason)
	}
}

// leftAlone names the files that were no pictures.
func (s *sheet) leftAlone(b *book) {
	names := b.leftAlone()
	if len(names) == 0 {
		return
	}
	if s.GetY() > paper.Bottom-40 {
		s.AddPage()
	}
	s.Heading(leftAloneHead)
	s.Paragraph(paper.Regular, paper.Small, strings.Join(names, "; "))
}
