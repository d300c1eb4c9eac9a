package evidence

import (
	"encoding/csv"
	"strconv"
	"strings"

	"crimprule/internal/site"
	"crimprule/internal/verdict"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// columns of the CSV. One row is one value (or one reason why there is none) of one picture, or one value measured
// elsewhere: only so can a spreadsheet filter, sort and chart a measurand over crimps, with its u and limits beside it,
// whatever views the scan holds. The crimp's own result stands in every one of its rows.
var columns = []string{
	"number", "crimp", "string", "crew", "tool", "trainee", "date", "replaced_by_crimp_of", "crimp_result", "crimp_score", "own_verdict",
	"source", "file", "view", "taken", "key", "name", "value", "u", "unit", "min", "max", "aim", "result", "score", "reason",
	"who", "when", "note", "tolerances", "sha256", "doubts", "warnings",
}

// byteOrderMark tells spreadsheets that the file is UTF-8.
const byteOrderMark = "\ufeff"

// table writes the CSV (RFC 4180). Text is what a person reads: control characters are visible, and a cell that a
// spreadsheet would take for a formula begins with an apostrophe. Numbers are never touched.
type table struct {
	out *output
	csv *csv.Writer
}

func newTable(out *output) *table {
	w := csv.NewWriter(out)
	w.UseCRLF = true
	return &table{out, w}
}

func (t *table) head() error {
	if _, err := t.out.WriteString(byteOrderMark); err != nil {
		return err
	}
	return t.csv.Write(columns)
}

// end flushes what is left.
func (t *table) end() error {
	t.csv.Flush()
	return t.csv.Error()
}

// cells is one row by the names of its columns.
type cells map[string]string

func (t *table) write(base cells, more cells) error {
	line := make([]string, len(columns))
	for i, name := range columns {
		line[i] = base[name]
		if text, ok := more[name]; ok {
			line[i] = text
		}
	}
	return t.csv.Write(line)
}

// crimp writes the rows of a crimp.
func (t *table) crimp(c site.Crimp) error {
	base := cells{
		"number": strconv.Itoa(c.Number), "crimp": wording.Cell(c.Name()), "string": wording.Cell(c.Label.String), "crew": wording.Cell(c.Label.Crew),
		"tool": wording.Cell(c.Label.Tool), "trainee": wording.Cell(c.Label.Trainee), "date": wording.Cell(c.Label.Date),
		"crimp_result": string(c.Result), "own_verdict": wording.Cell(string(c.Label.Own)), "note": wording.Cell(c.Label.Note),
		"doubts":   wording.Cell(strings.Join(c.Doubts, "; ")),
		"warnings": wording.Cell(strings.Join(c.Warnings, "; ")), "replaced_by_crimp_of": wording.Cell(c.ReplacedBy()),
	}
	if scored(c) {
		base["crimp_score"] = score(c.Score)
	}
	for _, p := range c.Pictures {
		if err := t.picture(base, p); err != nil {
			return err
		}
	}
	for i, e := range c.Elsewhere {
		value, u := wording.Number(e.Value.Value, e.Value.U)
		f, _ := verdict.ElsewhereFeature(c.ElsewhereVerdict, c.Elsewhere, i)
		row := cells{"source": "elsewhere", "key": wording.Cell(string(e.Key)), "name": wording.Cell(wording.Name("", e.Key)), "value": value, "u": u,
			"unit": wording.Cell(e.Value.Unit), "reason": wording.Cell(e.NotJudged()), "result": string(f.Result), "who": wording.Cell(e.Who), "when": wording.Cell(e.When)}
		if e.Note != "" {
			row["note"] = wording.Cell(e.Note)
		}
		row.limits(f)
		if err := t.write(base, row); err != nil {
			return err
		}
	}
	return nil
}

func (t *table) picture(base cells, p site.Picture) error {
	own := cells{"source": "picture", "file": wording.Cell(p.File), "tolerances": p.Tolerances, "sha256": p.SHA256}
	switch {
	case p.Record == nil:
		own["reason"] = wording.Cell(p.Failure)
	case p.Refused():
		own["view"], own["reason"] = wording.Cell(string(p.Record.View)), wording.Cell(strings.Join(p.Record.Retake, "; "))
	default:
		return t.values(base, own, *p.Record)
	}
	return t.write(base, own)
}

// values writes a row a measurand, in reading order: the values, then what could not be measured.
func (t *table) values(base, own cells, rec record.Record) error {
	own["view"], own["taken"] = wording.Cell(string(rec.View)), wording.Cell(rec.Taken)
	for _, line := range linesOf(rec) {
		row := cells{"key": wording.Cell(string(line.Key)), "name": wording.Cell(wording.Name(rec.View, line.Key)), "result": string(line.Feature.Result)}
		for name, text := range own {
			row[name] = text
		}
		row.limits(line.Feature)
		if line.Value != nil {
			row["value"], row["u"] = wording.Number(line.Value.Value, line.Value.U)
			row["unit"] = wording.Cell(line.Value.Unit)
		} else {
			row["reason"], row["unit"] = wording.Cell(line.Reason), wording.Cell(line.Key.Unit())
		}
		if err := t.write(base, row); err != nil {
			return err
		}
	}
	return nil
}

// limits fills in what a feature was held against.
func (c cells) limits(f record.Feature) {
	for name, v := range map[string]*float64{"min": f.Min, "max": f.Max, "aim": f.Aim} {
		if v != nil {
			c[name] = strconv.FormatFloat(*v, 'f', -1, 64)
		}
	}
	if f.Score != nil {
		c["score"] = score(*f.Score)
	}
}

// line is one measurand of a record: its value or the reason why there is none, and how it was judged.
type line struct {
	Key     record.Key
	Value   *record.Value
	Reason  string
	Feature record.Feature // empty where there is no limit
}

// linesOf lists a record's measurands in reading order. What has neither value nor reason, such as a feature that the
// view does not have, has the feature's reason.
func linesOf(rec record.Record) []line {
	keys := measuredKeys(rec)
	for key := range rec.Unmeasured {
		keys = append(keys, key)
	}
	if rec.Verdict != nil {
		for _, f := range rec.Verdict.Features {
			keys = append(keys, f.Key)
		}
	}
	keys = unique(keys)
	lines := make([]line, 0, len(keys))
	for _, g := range wording.Groups(rec.View, keys) {
		for _, key := range g.Keys {
			l := line{Key: key, Reason: rec.Unmeasured[key]}
			l.Feature, _ = featureOf(rec.Verdict, key)
			if v, ok := rec.Measured[key]; ok {
				l.Value, l.Reason = &v, ""
			} else if l.Reason == "" {
				l.Reason = l.Feature.Reason
			}
			lines = append(lines, l)
		}
	}
	return lines
}

// featureOf finds the judgement of a measurand.
func featureOf(v *record.Verdict, key record.Key) (record.Feature, bool) {
	if v != nil {
		for _, f := range v.Features {
			if f.Key == key {
				return f, true
			}
		}
	}
	return record.Feature{}, false
}
