package evidence

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/vision/record"
)

const firstDay, secondDay = "2026-05-04", "2026-05-09"

// made is a crimp of a day, whose name is also that of one of the other day.
func made(trainee, crimp, date string, result record.Result) site.Crimp {
	c := sure(record.Seam, result, 0.9)
	c.Label = site.Label{String: "north", Trainee: trainee, Crimp: crimp, Date: date}
	c.AddDays(firstDay, secondDay)
	return c
}

// TestACrimpMadeAnewIsCleared: the one before is shown, and counts in the yield and in the tables, but nothing is to be done
// with it any more. Of the new one that counts which it is, good or bad.
func TestACrimpMadeAnewIsCleared(t *testing.T) {
	src := some{made("", "1", firstDay, record.DoesNotConform), made("", "1", secondDay, record.Conforms), made("", "2", firstDay, record.NotMeasured), made("", "2", secondDay, record.Conforms)}
	src[0].Doubt("a copy")
	src[2].Warn("look")
	dir := t.TempDir()
	s, err := Write(context.Background(), dir, newInvented(t, 0).info(), src)
	require.NoError(t, err)
	assert.Equal(t, []int{4, 2, 2, 3, 0, 0}, []int{s.Crimps, s.Replaced, s.Conforming, s.Judged, s.Doubted, s.Warned})
	assert.Equal(t, map[record.Result]int{record.Conforms: 2}, s.Results)
	assert.Contains(t, s.Answer, "Nothing in these pictures speaks against it")
	page, pdf := pageText(read(t, dir, "index.html")), pdfWords(t, dir)
	for what, text := range map[string]string{"page": page, "PDF": pdf} {
		assert.Contains(t, text, "north / 1 of 2026-05-04", what)
		assert.Contains(t, text, "north / 1 of 2026-05-09", what)
		assert.Contains(t, text, "replaced by the crimp of 2026-05-09", what)
		assert.Contains(t, text, "2 replaced by a crimp that was made anew", what)
		assert.Contains(t, text, "nothing: it was made anew", what)
		assert.Contains(t, text, "66.7 % (9.4 to 99.2 %), 2 of 3; 1 not measured", what)
		assert.NotContains(t, text, "make anew with a new contact", what)
	}
	assert.Contains(t, pdf, "Replaced by crimps that were made anew: 2 crimps")
	assert.Contains(t, read(t, dir, "index.html"), `data-n="1" data-name="0" data-result="replaced"`)
	assert.Contains(t, pageText(read(t, dir, "crimps/0001.html")), "north / 1 of 2026-05-04 DOES NOT CONFORM , score 90.0 of 100 replaced by the crimp of 2026-05-09")
	assert.Contains(t, read(t, dir, "crimps.csv"), ",2026-05-04,2026-05-09,does_not_conform,")
	assert.Contains(t, read(t, dir, "crimps.csv"), ",2026-05-09,,conforms,")
	assert.Contains(t, read(t, dir, RecordsName), `"result":"does_not_conform","score":90,"replaced_by_crimp_of":"2026-05-09"`)

	s, err = Write(context.Background(), t.TempDir(), newInvented(t, 0).info(), some{made("", "1", firstDay, record.DoesNotConform), made("", "1", secondDay, record.NotMeasured)})
	require.NoError(t, err)
	assert.Equal(t, "Not on these pictures: 1 must be photographed again.", s.Answer, "the old one is cut off anyway")
	s, err = Write(context.Background(), t.TempDir(), newInvented(t, 0).info(), some{made("trainee 3", "1", firstDay, record.DoesNotConform), made("trainee 3", "1", secondDay, record.Conforms)})
	require.NoError(t, err)
	assert.Equal(t, "Not all of them: 1 crimp does not conform.", s.Answer, "trainees number theirs anew each day")
}

// TestACrimpMadeAnewIsNotMissing: it is named as what it was and what took its place, and left out of the yield with words.
func TestACrimpMadeAnewIsNotMissing(t *testing.T) {
	info := newInvented(t, 0).info()
	old := made("", "1", firstDay, record.DoesNotConform)
	when := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	info.Missing = []Missing{{Name: old.Called(), Result: old.Result, When: when, Crimp: old}}
	dir := t.TempDir()
	s, err := Write(context.Background(), dir, info, some{made("", "1", secondDay, record.Conforms)})
	require.NoError(t, err)
	assert.Contains(t, s.Answer, "Nothing in these pictures speaks against it")
	assert.Equal(t, []int{0, 1}, []int{s.Missing, s.LeftOut})
	for what, text := range map[string]string{"page": pageText(read(t, dir, "index.html")), "PDF": pdfWords(t, dir)} {
		assert.Contains(t, text, "north / 1 of 2026-05-04 did not conform and was replaced by the crimp of 2026-05-09", what)
		assert.Contains(t, text, "1 of 1; 1 crimp of earlier pictures is left out", what)
		assert.NotContains(t, text, "not among these pictures", what)
	}
}

// TestNoLotIsAcceptedByLeavingOut: the sample is what was drawn. A picture that is taken away, or a crimp that is made anew,
// changes nothing in it. The plan for 500 at AQL 1.0 is letter H: 50, Ac 1, Re 2 (ISO 2859-1, table 2-A, read in copies).
func TestNoLotIsAcceptedByLeavingOut(t *testing.T) {
	when := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	left := func(results ...record.Result) []Missing {
		var all []Missing
		for _, result := range results {
			all = append(all, Missing{Name: "gone", Result: result, When: when, Crimp: sure(record.Seam, result, 0.9)})
		}
		return all
	}
	wire := Missing{Name: "wire", Result: record.DoesNotConform, When: when, Crimp: sure(record.Strip, record.DoesNotConform, 0.9)}
	anew := made("", "1", firstDay, record.DoesNotConform)
	for name, c := range map[string]struct {
		good    int
		missing []Missing
		more    []site.Crimp
		outcome statistics.Outcome
		head    string
		remark  string
	}{
		"nothing is missing": {50, nil, nil, statistics.Accepted, "50 inspected, 0 not conforming", ""},
		"two bad ones":       {48, left(record.DoesNotConform, record.DoesNotConform), nil, statistics.Rejected, "50 inspected, 2 not conforming", "Counted in are 2 crimps whose pictures are gone"},
		"two open ones":      {48, left(record.NotProven, record.NotMeasured), nil, statistics.Open, "50 inspected", "Counted in are 2 crimps whose pictures are gone"},
		"a stripped wire":    {50, []Missing{wire, wire}, nil, statistics.Accepted, "50 inspected, 0 not conforming", ""},
		"made anew, both there": {48, left(record.DoesNotConform), []site.Crimp{anew, made("", "1", secondDay, record.Conforms)}, statistics.Rejected, "50 inspected, 2 not conforming",
			"Left out is 1 crimp that was made anew"},
		"made anew, the old one gone": {48, append(left(record.DoesNotConform), Missing{Name: "old", Result: record.DoesNotConform, When: when, Crimp: anew}),
			[]site.Crimp{made("", "1", secondDay, record.Conforms)}, statistics.Rejected, "50 inspected, 2 not conforming", "Left out is 1 crimp that was made anew"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBook(Info{Lot: &Lot{Size: 500, AQL: 1.0}, Missing: c.missing})
			for range c.good {
				b.take(sure(record.Seam, record.Conforms, 0.95))
			}
			for _, more := range c.more {
				b.take(more)
			}
			lot := b.lot()
			assert.Equal(t, c.outcome, lot.Outcome)
			assert.Contains(t, lot.Head, c.head)
			found := false
			for _, more := range lot.More {
				found = found || c.remark != "" && len(more) > len(c.remark) && more[:len(c.remark)] == c.remark
			}
			assert.Equal(t, c.remark != "", found, "%q", lot.More)
		})
	}
}
