package terminal

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"crimprule/internal/advice"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Record prints one picture's record: what it shows, a table of the values, what is not known and why, and what to do.
func (t *Terminal) Record(rec record.Record) error {
	p := t.page()
	p.line("%s: %s", wording.Clean(rec.Image), p.headline(rec))
	if text := provenance(rec); text != "" {
		p.wrapped(2, "", text)
	}
	if rec.Tag != "" {
		p.wrapped(2, "tag: ", wording.Clean(rec.Tag))
	}
	if rec.Verdict != nil && rec.Verdict.Tolerances != "" {
		p.line("  judged by: %s", wording.Clean(rec.Verdict.Tolerances))
	}
	p.table(rec)
	p.section(rec)
	p.notes(rec)
	p.unmeasured(rec)
	p.retake(rec)
	p.advice(rec)
	p.line("")
	return p.w.Flush()
}

func (p *page) headline(rec record.Record) string {
	switch {
	case len(rec.Retake) > 0:
		return p.paint(record.NotMeasured, "NOT MEASURED") + ", take the picture anew"
	case rec.Verdict == nil:
		return fmt.Sprintf("%d values measured, not judged (no limits given)", len(rec.Measured))
	case rec.Verdict.Result == record.NotMeasured:
		return p.paint(record.NotMeasured, strings.ToUpper(wording.Result(record.NotMeasured)))
	}
	return fmt.Sprintf("%s, score %.1f of 100",
		p.paint(rec.Verdict.Result, strings.ToUpper(wording.Result(rec.Verdict.Result))), rec.Verdict.Score)
}

func provenance(rec record.Record) string {
	parts := []string{wording.View(rec.View)}
	if s := rec.Scale; s != nil {
		parts = append(parts, scaled(*s))
		if s.TiltDeg > 0 {
			parts = append(parts, fmt.Sprintf("camera tilted by %.1f°", s.TiltDeg))
		}
	}
	if rec.Taken != "" {
		parts = append(parts, "taken "+wording.Clean(rec.Taken))
	}
	if len(parts) == 1 && len(rec.Retake) > 0 {
		return ""
	}
	return strings.Join(parts, "; ")
}

// scaled tells the scale and where it is from; micrographs count in micrometres.
func scaled(s record.Scale) string {
	from := "from the " + wording.Clean(s.Kind)
	switch s.Kind {
	case "known":
		from = "as declared"
	case "bar":
		from = "from the drawn bar"
	}
	if s.MMPerPX < 0.01 {
		return fmt.Sprintf("scale %s: %.4f µm a pixel (± %.2g %%)", from, 1000*s.MMPerPX, 100*s.URel)
	}
	return fmt.Sprintf("scale %s: %.5f mm a pixel (± %.2g %%)", from, s.MMPerPX, 100*s.URel)
}

// row is one line of the table, its cells as text.
type row struct {
	name, value, u, unit, limits string
	result                       record.Result
}

func (p *page) table(rec record.Record) {
	if len(rec.Retake) > 0 {
		return
	}
	features := map[record.Key]record.Feature{}
	if rec.Verdict != nil {
		for _, f := range rec.Verdict.Features {
			features[f.Key] = f
		}
	}
	rows := map[record.Key]row{}
	for key, v := range rec.Measured {
		rows[key] = measuredRow(rec.View, key, v, features[key])
	}
	for key, f := range features {
		if _, ok := rows[key]; !ok {
			rows[key] = row{name: wording.Name(rec.View, key), value: "-", unit: wording.Unit(key.Unit()), limits: wording.Limits(f.Min, f.Max), result: f.Result}
		}
	}
	p.rows(wording.Groups(rec.View, keysOf(rows)), rows, rec.Verdict != nil)
}

func measuredRow(view record.View, key record.Key, v record.Value, f record.Feature) row {
	value, u := wording.Number(v.Value, v.U)
	r := row{name: wording.Name(view, key), value: value, unit: wording.Unit(v.Unit), limits: wording.Limits(f.Min, f.Max), result: f.Result}
	if v.U > 0 {
		r.u = "± " + u
	}
	return r
}

// keysOf gives the table's keys in the order in which a person reads them; map order must not show.
func keysOf(rows map[record.Key]row) []record.Key {
	keys := make([]record.Key, 0, len(rows))
	for k := range rows {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func (p *page) rows(groups []wording.Group, rows map[record.Key]row, judged bool) {
	var name, value, u, unit, limits int
	for _, r := range rows {
		name, value = widest(name, r.name), widest(value, r.value)
		u, unit, limits = widest(u, r.u), widest(unit, r.unit), widest(limits, r.limits)
	}
	for _, g := range groups {
		p.line("  %s", g.Title)
		for _, key := range g.Keys {
			r := rows[key]
			text := "    " + padded(r.name, name, false) + "  " + padded(r.value, value, true) + " " +
				padded(r.u, u, false) + " " + padded(r.unit, unit, false)
			if judged {
				text += "  " + padded(r.limits, limits, false) + "  " + p.paint(r.result, wording.Result(r.result))
			}
			p.line("%s", strings.TrimRight(text, " "))
		}
	}
}

func widest(width int, text string) int { return max(width, utf8.RuneCountInString(text)) }

// unmeasured lists what could not be had; keys with the same reason share a line.
func (p *page) unmeasured(rec record.Record) {
	reasons := map[record.Key]string{}
	for key, reason := range rec.Unmeasured {
		reasons[key] = reason
	}
	if rec.Verdict != nil {
		for _, f := range rec.Verdict.Features {
			if _, ok := rec.Measured[f.Key]; !ok && f.Reason != "" && reasons[f.Key] == "" && len(rec.Retake) == 0 {
				reasons[f.Key] = f.Reason
			}
		}
	}
	if len(reasons) == 0 {
		return
	}
	var order []string
	byReason := map[string][]string{}
	present := make([]record.Key, 0, len(reasons))
	for key := range reasons {
		present = append(present, key)
	}
	for _, g := range wording.Groups(rec.View, present) {
		for _, key := range g.Keys {
			reason := reasons[key]
			if byReason[reason] == nil {
				order = append(order, reason)
			}
			byReason[reason] = append(byReason[reason], wording.Name(rec.View, key))
		}
	}
	p.line("  Not measured")
	for _, reason := range order {
		p.wrapped(4, "", strings.Join(byReason[reason], "; ")+": "+wording.Clean(reason))
	}
}

// notes prints the remarks about a photo; those about a section stand among what only sections have.
func (p *page) notes(rec record.Record) {
	if rec.View == record.Section {
		return
	}
	for _, note := range rec.Notes {
		p.wrapped(2, "Note: ", wording.Clean(note))
	}
}

func (p *page) retake(rec record.Record) {
	for _, reason := range rec.Retake {
		p.wrapped(2, "- ", wording.Clean(reason))
	}
}

// advice tells what each failed or doubtful feature means. Features that were not measured share one entry: their
// reasons stand above, and what to do is the same.
func (p *page) advice(rec record.Record) {
	if rec.Verdict == nil || len(rec.Retake) > 0 {
		return
	}
	var silent []string
	titled := false
	title := func() {
		if !titled {
			p.line("  What it means and what to do")
			titled = true
		}
	}
	for _, f := range rec.Verdict.Features {
		switch {
		case f.Result == record.Conforms:
		case f.Result == record.NotMeasured:
			silent = append(silent, wording.Name(rec.View, f.Key))
		case f.Advice != nil:
			title()
			p.featureAdvice(rec.View, f)
		}
	}
	if len(silent) > 0 {
		title()
		p.wrapped(4, "", strings.Join(silent, "; ")+": "+wording.Result(record.NotMeasured))
		p.wrapped(6, "means:  ", "Nothing is known of this, neither good nor bad.")
		p.wrapped(6, "do:     ", advice.Unmeasured(rec.View))
	}
}

func (p *page) featureAdvice(view record.View, f record.Feature) {
	p.line("    %s: %s", wording.Name(view, f.Key), p.paint(f.Result, wording.Result(f.Result)))
	if f.Advice.Means != "" {
		p.wrapped(6, "means:  ", f.Advice.Means)
	}
	if len(f.Advice.Causes) > 0 {
		p.wrapped(6, "likely: ", strings.Join(f.Advice.Causes, "; "))
	}
	if f.Advice.Do != "" {
		p.wrapped(6, "do:     ", f.Advice.Do)
	}
	if f.Note != "" {
		p.wrapped(6, "limit:  ", wording.Clean(f.Note))
	}
}

// paint colours a result's word: bold red, yellow or green, each only beside the word itself.
func (p *page) paint(r record.Result, text string) string {
	if !p.colour {
		return text
	}
	code := map[record.Result]string{
		record.Conforms: "32", record.DoesNotConform: "1;31", record.NotProven: "33", record.NotMeasured: "33",
	}[r]
	if code == "" {
		return text
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}
