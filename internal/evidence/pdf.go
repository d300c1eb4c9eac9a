package evidence

import (
	"context"
	"fmt"
	"runtime/debug"
	"strings"
	"sync"

	"crimprule/internal/advice"
	"crimprule/internal/paper"
	"crimprule/vision/record"
)

// pdf writes the PDF: a cover with the summary, the crimps in the order of what must be done, then what there is to look up:
// pictures that came to nothing, yields, charts, cautions, limits. The crimps are taken out of the book on the way.
func (f folder) pdf(ctx context.Context, b *book) error {
	// The library holds all pages, some 1.5 kB a crimp, until it writes them, and makes much garbage then.
	defer debug.SetGCPercent(debug.SetGCPercent(10))
	return f.file("evidence.pdf", func(w *output) error {
		s := newSheet(f, b.info)
		cautions := advice.CautionsFor(b.views...)
		told := s.cover(b, cautions)
		if err := s.crimps(ctx, b); err != nil {
			return err
		}
		s.pictures(refusalsHead, b.refusals)
		s.pictures(failuresHead, b.failures)
		s.leftAlone(b)
		s.yields(b)
		s.lot(b)
		s.drifts(b)
		b.rows, b.drift = nil, drift{} // nothing below needs them, and the end takes the most memory
		if !told {
			s.cautions(cautions)
		}
		s.tolerances(b.info.Tolerances)
		return s.End(w, "index.html, crimps.csv and records.jsonl have")
	})
}

// Headings of pictures that came to nothing.
const (
	refusalsHead = "Pictures that ask for a better one"
	failuresHead = "Pictures that could not be read"
)

// pictureText accounts for the pictures.
func (b *book) pictureText() string {
	return fmt.Sprintf("%d, of which %d could not be read and %d ask for a better one; %s left alone",
		b.pictures, len(b.failures), len(b.refusals), plural(len(b.info.LeftAlone), "other file was", "other files were"))
}

// missing lists the crimps that an earlier scan did not find to conform and whose pictures are gone.
func (s *sheet) missing(b *book) {
	if list := b.missing(); len(list) > 0 {
		s.HeadingOver(missingHead, 30)
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

// lot says whether the lot is accepted.
func (s *sheet) lot(b *book) {
	lot := b.lot()
	if lot == nil {
		return
	}
	s.HeadingOver("The lot", 30)
	s.Paragraph(paper.Bold, paper.Body, lot.Head)
	for _, more := range lot.More {
		s.Paragraph(paper.Regular, paper.Small, more)
	}
}

// cautions prints all of them.
func (s *sheet) cautions(all []string) {
	s.bookmark("Cautions")
	s.HeadingOver("Cautions", 40)
	for _, caution := range all {
		s.item(caution)
	}
}

// crimps prints one row a crimp, what must be done first in front.
func (s *sheet) crimps(ctx context.Context, b *book) error {
	rows, about := b.listed(), b.matter()
	between := sync.OnceFunc(func() { // what no crimp here shows is as urgent as what does not conform
		s.endTable()
		s.missing(b)
		s.notes(b)
	})
	for len(rows) > 0 {
		title := about.chapterOf(rows[0])
		var t tally
		n := 0
		for n < len(rows) && about.chapterOf(rows[n]) == title {
			t.add(rows[n].Kind)
			n++
		}
		if rows[0].place() > 0 {
			between()
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
	between()
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
			{lead: result[0], text: strings.Join(result[1:], "\n")}, {lead: worst},
		},
		rest: r.Rest,
	})
}

// glued keeps a value on one line.
func glued(text string) string { return strings.ReplaceAll(text, " ", "\u00a0") }

// pictures lists pictures that came to nothing.
func (s *sheet) pictures(title string, all []failure) {
	if len(all) == 0 {
		return
	}
	s.bookmark(title)
	s.HeadingOver(fmt.Sprintf("%s: %d", title, len(all)), 25)
	for _, f := range all {
		text := f.Text()
		if f.Name != "" && f.Name != f.File {
			text = fmt.Sprintf("%s (no. %d, %s): %s", f.File, f.Crimp, f.Name, f.Reason)
		}
		s.item(text)
	}
}

// leftAlone names the files that were no pictures.
func (s *sheet) leftAlone(b *book) {
	names := b.leftAlone()
	if len(names) == 0 {
		return
	}
	s.HeadingOver(leftAloneHead, 25)
	s.Paragraph(paper.Regular, paper.Small, strings.Join(names, "; "))
}
