package terminal

import (
	"fmt"
	"strings"

	"crimprule/vision/record"
)

// Summary counts what became of the pictures of one call.
type Summary struct {
	Pictures   int // given
	Unreadable int // without a record
	Retake     int // with a record that asks for a better picture
	Judged     map[record.Result]int
}

// Add counts a record.
func (s *Summary) Add(rec record.Record) {
	switch {
	case len(rec.Retake) > 0:
		s.Retake++
	case rec.Verdict != nil:
		if s.Judged == nil {
			s.Judged = map[record.Result]int{}
		}
		s.Judged[rec.Verdict.Result]++
	}
}

// Summary prints the counts where there is more than one picture, and the cautions that belong below every result.
func (t *Terminal) Summary(s Summary, cautions []string) error {
	p := t.page()
	if s.Pictures > 1 {
		p.line("%s", s.text())
	}
	for _, caution := range cautions {
		p.wrapped(0, "", caution)
	}
	return p.w.Flush()
}

func (s Summary) text() string {
	parts := []string{fmt.Sprintf("%d pictures", s.Pictures)}
	for _, c := range []struct {
		n     int
		words string
	}{
		{s.Judged[record.Conforms], "conform"},
		{s.Judged[record.DoesNotConform], "DO NOT CONFORM"},
		{s.Judged[record.NotProven], "not proven"},
		{s.Judged[record.NotMeasured], "not measured in full"},
		{s.Retake, "to be taken anew"},
		{s.Unreadable, "could not be read"},
	} {
		if c.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", c.n, c.words))
		}
	}
	if len(parts) == 1 {
		return parts[0] + " measured"
	}
	return parts[0] + ": " + strings.Join(parts[1:], ", ")
}
