package terminal

import (
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"time"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// historyColumns are those of the history's CSV. A row is one value, or one reason why there is none, of one picture of
// one scan, or one value measured elsewhere.
var historyColumns = []string{"source", "scan", "string", "crimp", "trainee", "crew", "tool", "made", "own_verdict", "tag", "file", "view", "taken", "measured", "program",
	"key", "name", "value", "u", "unit", "min", "max", "result", "reason", "picture_result", "picture_score", "tolerances", "tolerances_sha256", "who", "when", "note", "sha256", "scanned_in"}

// HistoryTable writes a history as CSV (RFC 4180), row by row. Text is cleaned and harmless to spreadsheets, numbers are
// never touched; they are rounded as their u allows.
type HistoryTable struct{ csv *csv.Writer }

// HistoryTable begins a table on standard output.
func (t *Terminal) HistoryTable() *HistoryTable {
	table := &HistoryTable{csv.NewWriter(t.out)}
	table.csv.UseCRLF = true
	_, _ = t.out.Write([]byte("\ufeff")) // tells spreadsheets that it is UTF-8; a failure comes again with the first row
	_ = table.csv.Write(historyColumns)
	return table
}

// End writes what is left.
func (t *HistoryTable) End() error {
	t.csv.Flush()
	return t.csv.Error()
}

// cells is one row by the names of its columns.
type cells map[string]string

func (t *HistoryTable) write(rows ...cells) error {
	line := make([]string, len(historyColumns))
	for i, name := range historyColumns {
		for _, row := range rows {
			if text, ok := row[name]; ok {
				line[i] = text
			}
		}
	}
	return t.csv.Write(line)
}

func labelCells(l site.Label) cells {
	return cells{"string": wording.Cell(l.String), "crimp": wording.Cell(l.Crimp), "trainee": wording.Cell(l.Trainee), "crew": wording.Cell(l.Crew),
		"tool": wording.Cell(l.Tool), "made": wording.Cell(l.Date), "own_verdict": wording.Cell(string(l.Own)), "note": wording.Cell(l.Note)}
}

// Picture writes the rows of a picture.
func (t *HistoryTable) Picture(s history.Shown) error {
	p := s.Picture
	base := labelCells(p.Label)
	base["source"], base["scan"] = "picture", strconv.FormatInt(s.Scan, 10)
	base["tag"], base["file"], base["sha256"] = wording.Cell(s.Tag), wording.Cell(p.File), p.SHA256
	base["program"], base["scanned_in"] = wording.Cell(s.Program), wording.Cell(s.Source)
	if p.Record == nil {
		base["reason"] = wording.Cell(p.Failure)
		return t.write(base)
	}
	rec := *p.Record
	base["view"], base["taken"], base["measured"] = string(rec.View), wording.Cell(rec.Taken), p.Measured.UTC().Format(time.RFC3339)
	features := map[record.Key]record.Feature{}
	if rec.Verdict != nil {
		base["picture_result"] = string(rec.Verdict.Result)
		if rec.Verdict.Result != record.NotMeasured {
			base["picture_score"] = strconv.FormatFloat(rec.Verdict.Score, 'f', 1, 64)
		}
		base["tolerances"], base["tolerances_sha256"] = wording.Cell(s.Tolerances.Name), s.Tolerances.Hash
		for _, f := range rec.Verdict.Features {
			features[f.Key] = f
		}
	}
	keys := keysToTell(rec, features)
	if len(rec.Retake) > 0 || len(keys) == 0 {
		base["reason"] = wording.Cell(strings.Join(rec.Retake, "; "))
		return t.write(base)
	}
	for _, key := range keys {
		if err := t.write(base, valueCells(rec, key, features[key])); err != nil {
			return err
		}
	}
	return nil
}

// keysToTell are those with a value, a reason or a limit, in reading order.
func keysToTell(rec record.Record, features map[record.Key]record.Feature) []record.Key {
	var present []record.Key
	for key := range rec.Measured {
		present = append(present, key)
	}
	for key := range rec.Unmeasured {
		present = append(present, key)
	}
	for key := range features {
		present = append(present, key)
	}
	slices.Sort(present)
	var keys []record.Key
	for _, g := range wording.Groups(rec.View, slices.Compact(present)) {
		keys = append(keys, g.Keys...)
	}
	return keys
}

func valueCells(rec record.Record, key record.Key, f record.Feature) cells {
	row := cells{"key": wording.Cell(string(key)), "name": wording.Cell(wording.Name(rec.View, key)), "result": string(f.Result)}
	if v, measured := rec.Measured[key]; measured {
		row["value"], row["u"] = wording.Number(v.Value, v.U)
		row["unit"] = wording.Cell(v.Unit)
	} else {
		row["reason"] = wording.Cell(rec.Unmeasured[key])
		if row["reason"] == "" {
			row["reason"] = wording.Cell(f.Reason)
		}
	}
	limitCells(row, f)
	return row
}

func limitCells(row cells, f record.Feature) {
	for name, limit := range map[string]*float64{"min": f.Min, "max": f.Max} {
		if limit != nil {
			row[name] = strconv.FormatFloat(*limit, 'f', -1, 64)
		}
	}
}

// Elsewhere writes the row of a value measured elsewhere.
func (t *HistoryTable) Elsewhere(e history.DumpedElsewhere) error {
	value, u := wording.Number(e.Value.Value, e.Value.U)
	judged, why := cells{}, e.NotJudged()
	if f := e.Verdict; f != nil {
		limitCells(judged, *f)
		why = f.Reason
		judged["result"], judged["tolerances"], judged["tolerances_sha256"] = string(f.Result), wording.Cell(e.TolerancesName), e.Tolerances
	}
	return t.write(labelCells(site.Label{String: e.String, Trainee: e.Trainee, Crimp: e.Crimp, Date: e.Made}), judged, cells{"source": "elsewhere", "measured": e.Added.UTC().Format(time.RFC3339),
		"key": wording.Cell(string(e.Key)), "name": wording.Cell(wording.Name("", e.Key)), "value": value, "u": u, "unit": wording.Cell(e.Value.Unit),
		"reason": wording.Cell(why), "scanned_in": wording.Cell(e.Source), "who": wording.Cell(e.Who), "when": wording.Cell(e.When), "note": wording.Cell(e.Note)})
}
