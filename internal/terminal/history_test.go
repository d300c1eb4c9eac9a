package terminal

import (
	"bytes"
	"encoding/csv"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

// evil would clear the screen, or be a formula in a spreadsheet.
const evil = "=\x1b[2J\n\xff"

func evilHistory() (history.Standing, history.Story) {
	label := site.Label{String: evil, Crimp: evil, Crew: evil, Tool: evil, Trainee: evil, Date: evil, Own: evil, Note: evil}
	rec := record.New(record.Seam)
	rec.Set(record.BrushMean, 0.71, 0.11)
	rec.Miss(record.Bend, evil)
	rec.Notes = []string{evil}
	value := site.Elsewhere{Key: "torque", Value: record.Value{Value: 3, U: 0.1, Unit: "N m"}, Who: evil, When: evil, Note: evil}
	s := history.Standing{Crimp: site.Crimp{Label: label, Pictures: []site.Picture{{File: evil}}, Elsewhere: []site.Elsewhere{value}, Warnings: []string{evil}}}
	return s, history.Story{
		Measurements: []history.Telling{{File: evil, Program: evil, Request: evil, SHA256: evil, Label: label, Record: rec,
			Verdicts: []history.Judgement{{Tolerances: history.Tolerances{Name: evil, File: evil, Hash: evil}, Verdict: record.Verdict{Result: record.Conforms}}}}},
		Failures: []history.Failed{{File: evil, Why: evil}}}
}

// Nothing from outside steers the terminal.
func TestHistoryIsClean(t *testing.T) {
	s, story := evilHistory()
	var out bytes.Buffer
	term := New(&out, io.Discard)
	require.NoError(t, term.HistoryList([]history.Standing{s}))
	require.NoError(t, term.HistoryScans([]history.Tally{{Scan: history.Scan{Source: evil}}}))
	require.NoError(t, term.HistoryShow(s, story))
	require.NoError(t, term.HistoryAdded(s.Crimp, 1))
	s.Crimp.Elsewhere[0].Withdrawn = evil
	require.NoError(t, term.HistoryWithdrawn(s.Crimp, 1))
	assert.NotContains(t, out.String(), "\x1b")
	assert.Contains(t, out.String(), `=\x1b[2J\n\xff`)
	assert.True(t, strings.ToValidUTF8(out.String(), "") == out.String(), "UTF-8 only")
	for line := range strings.Lines(out.String()) {
		assert.Equal(t, strings.TrimRight(line, " \n")+"\n", line, "no spaces at the end")
	}
}

func TestInScans(t *testing.T) {
	for want, ids := range map[string][]int64{"no scan": nil, "scan 3": {3}, "scans 1 and 2": {1, 2}, "scans 1 and 4": {1, 4}, "scans 1, 2 and 4": {1, 2, 4},
		"scans 1 to 3": {1, 2, 3}, "scans 1 to 5, 7 and 9 to 11": {1, 2, 3, 4, 5, 7, 9, 10, 11}} {
		assert.Equal(t, want, inScans(ids))
	}
}

func TestEmptyHistory(t *testing.T) {
	var out bytes.Buffer
	term := New(&out, io.Discard)
	require.NoError(t, term.HistoryList(nil))
	require.NoError(t, term.HistoryScans(nil))
	assert.Equal(t, "no crimps\nno scans\n", out.String())
}

// The table has its columns in every row, and no text in it is a formula.
func TestHistoryTableIsHarmless(t *testing.T) {
	s, story := evilHistory()
	rec := story.Measurements[0].Record
	rec.Verdict = &record.Verdict{Result: record.DoesNotConform, Features: []record.Feature{{Key: record.StrayCount, Result: record.NotMeasured, Reason: evil, Max: ptr(0)}}}
	rec.Set(record.SeamOffset, -0.01, 0.08)
	var out bytes.Buffer
	table := New(&out, io.Discard).HistoryTable()
	for _, p := range []site.Picture{{File: evil, Label: s.Crimp.Label, Failure: evil}, {File: evil, Label: s.Crimp.Label, Record: &rec, Measured: time.Unix(0, 0)}} {
		require.NoError(t, table.Picture(history.Shown{Picture: p, Program: evil, Tag: evil, Tolerances: history.Tolerances{Name: evil}}))
	}
	require.NoError(t, table.Elsewhere(history.DumpedElsewhere{String: evil, Trainee: evil, Crimp: evil, Elsewhere: s.Crimp.Elsewhere[0]}))
	require.NoError(t, table.End())
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(out.String(), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	assert.Len(t, rows, 1+1+4+1, "a head, a failure, four measurands, one value from elsewhere")
	numbers := 0
	for _, row := range rows[1:] {
		require.Len(t, row, len(historyColumns))
		for i, cell := range row {
			if historyColumns[i] == "value" && strings.HasPrefix(cell, "-") {
				numbers++ // a number, not a formula
				continue
			}
			assert.False(t, cell != "" && strings.ContainsRune("=+-@", rune(cell[0])), "%s: %s", historyColumns[i], cell)
		}
	}
	assert.Equal(t, 1, numbers)
}
