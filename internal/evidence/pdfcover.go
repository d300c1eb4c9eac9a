package evidence

import (
	"fmt"

	"crimprule/internal/advice"
	"crimprule/internal/paper"
	"crimprule/internal/wording"
)

// cover is what a reader must know who sees but one page: what this is about, the answer, a place to sign, the counts, and
// the cautions, in short where all of them do not fit. It tells whether all are there.
func (s *sheet) cover(b *book, cautions []string) (told bool) {
	h := b.info.head()
	s.AddPage()
	s.bookmark("Summary")
	s.Paragraph(paper.Bold, 20, h.Title)
	s.Ln(2)
	s.pairs([]fact{
		{"scanned", h.Source}, {"on", h.When}, {"by", h.Program}, {"pictures", b.pictureText()},
	})
	for _, t := range b.info.Tolerances {
		s.pairs([]fact{{"judged by", wording.Clean(t.Name) + " (" + wording.Clean(t.File) + ", SHA-256 " + shortHash(t.Hash) + ": see the end)"}})
	}
	a := b.answer()
	s.Heading(b.question())
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
	const heading = 14.0
	if told = s.GetY()+heading+s.tall(cautions...) < paper.Bottom; told {
		s.cautions(cautions)
	} else {
		s.Heading("Cautions")
		s.items(advice.Below(b.views...))
		s.Paragraph(paper.Regular, paper.Small, "All cautions stand behind the lists of crimps; they belong to this page.")
	}
	if notes := b.notes(); len(notes) > 0 && s.GetY()+heading+s.tall(notes...) < paper.Bottom {
		s.notes(b)
	}
	return told
}

// notes are what a person must look into besides the crimps. They stand on the cover where they fit, else behind what does
// not conform.
func (s *sheet) notes(b *book) {
	if notes := b.notes(); len(notes) > 0 && !s.noted {
		s.noted = true
		s.HeadingOver(notesHead, 25)
		s.items(notes)
	}
}

// items prints a list.
func (s *sheet) items(all []string) {
	for _, text := range all {
		s.item(text)
	}
}

// tall is the height of a list, in millimetres.
func (s *sheet) tall(items ...string) float64 {
	lines := 0
	for _, text := range items {
		lines += len(s.Wrap(paper.Style{Face: paper.Regular, Size: paper.Small}, s.Fit(paper.Regular, text), paper.Width-2*paper.Margin-6))
	}
	return float64(lines) * paper.Small * paper.LineHeight
}

// shortHash is as much of a SHA-256 as tells files apart; the whole one stands where the file is described.
func shortHash(sum string) string {
	const most = 12
	if len(sum) <= most {
		return sum
	}
	return sum[:most] + "…"
}
