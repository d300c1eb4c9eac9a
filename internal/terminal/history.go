package terminal

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/verdict"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// minute is how times of the history are printed: in UTC, so that two people read the same.
const minute = "2006-01-02 15:04"

func utc(t time.Time) string {
	if t.IsZero() {
		return "-"
	}
	return t.UTC().Format(minute)
}

// known is a text from outside, or a dash where there is none.
func known(text string) string {
	if text == "" {
		return "-"
	}
	return wording.Clean(text)
}

// HistoryList prints where crimps stand, a line each, and how many there are of each result.
func (t *Terminal) HistoryList(all []history.Standing) error {
	p := t.page()
	if len(all) == 0 {
		p.line("no crimps")
		return p.w.Flush()
	}
	table := [][]string{{"crimp", "made", "result", "score", "pictures", "measured (UTC)", "crew", "tool", "elsewhere", "scanned in"}}
	days, places := severalDays(all), severalPlaces(all)
	counts, replaced := map[record.Result]int{}, 0
	for _, s := range all {
		c, result := s.Crimp, judgedAs(s.Crimp.Result)
		if c.ReplacedBy() != "" {
			replaced++
			result += ", replaced"
		} else {
			counts[c.Result]++
		}
		table = append(table, []string{shortName(known(c.Name())), known(c.Label.Date), result, scoreOf(c), strconv.Itoa(len(c.Pictures)), utc(s.At),
			shortName(known(c.Label.Crew)), shortName(known(c.Label.Tool)), strconv.Itoa(c.Counting()), known(s.Source)})
	}
	for i := range table {
		if !places {
			table[i] = table[i][:len(table[i])-1]
		}
		if !days {
			table[i] = slices.Delete(table[i], 1, 2)
		}
	}
	p.aligned(table, "score", "pictures", "elsewhere")
	p.line("")
	p.line("%s", tally(len(all), counts, replaced))
	return p.w.Flush()
}

// severalDays tells whether crimps of one name are told apart by the day on which they were made.
func severalDays(all []history.Standing) bool {
	dates := map[string]string{}
	for _, s := range all {
		date, known := dates[s.Crimp.Name()]
		if known && date != s.Crimp.Label.Date {
			return true
		}
		dates[s.Crimp.Name()] = s.Crimp.Label.Date
	}
	return false
}

// severalPlaces tells whether crimps of one name are told apart by where they were scanned.
func severalPlaces(all []history.Standing) bool {
	first := map[string]history.Standing{}
	for _, s := range all {
		name := s.Crimp.Name()
		if other, known := first[name]; known && !s.OnePlace(other) {
			return true
		}
		first[name] = s
	}
	return false
}

func judgedAs(r record.Result) string {
	if r == "" {
		return "not judged"
	}
	return wording.Result(r)
}

func scoreOf(c site.Crimp) string {
	if c.Result == "" || c.Result == record.NotMeasured {
		return "-"
	}
	return fmt.Sprintf("%.1f", c.Score)
}

// tally says how many of how many there are of each result, and how many were made anew since.
func tally(n int, counts map[record.Result]int, replaced int) string {
	var parts []string
	for _, r := range []record.Result{record.Conforms, record.DoesNotConform, record.NotProven, record.NotMeasured, ""} {
		if counts[r] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", counts[r], map[record.Result]string{record.Conforms: "conform", record.DoesNotConform: "do not conform",
				record.NotProven: "not proven", record.NotMeasured: "not measured", "": "not judged"}[r]))
		}
	}
	if replaced > 0 {
		parts = append(parts, fmt.Sprintf("%d replaced", replaced))
	}
	return counted(n, "crimp") + ": " + strings.Join(parts, ", ")
}

// aligned prints a table whose first row names the columns; those named are set to the right.
func (p *page) aligned(table [][]string, right ...string) {
	widths := make([]int, len(table[0]))
	for _, row := range table {
		for i, cell := range row {
			widths[i] = widest(widths[i], cell)
		}
	}
	for _, row := range table {
		text := ""
		for i, cell := range row {
			text += "  " + padded(cell, widths[i], slices.Contains(right, table[0][i]))
		}
		p.line("%s", strings.TrimRight(text, " "))
	}
}

// HistoryScans prints the scans of a history, the oldest first.
func (t *Terminal) HistoryScans(all []history.Tally) error {
	p := t.page()
	if len(all) == 0 {
		p.line("no scans")
		return p.w.Flush()
	}
	table := [][]string{{"scan", "began (UTC)", "ended (UTC)", "pictures", "with a record", "new", "failed", "open", "source"}}
	for _, s := range all {
		ended := utc(s.Finished)
		if s.Finished.IsZero() {
			ended = "not yet"
		}
		table = append(table, []string{strconv.FormatInt(s.ID, 10), utc(s.Started), ended, strconv.Itoa(s.Pictures), strconv.Itoa(s.Recorded), strconv.Itoa(s.New),
			strconv.Itoa(s.Failed), strconv.Itoa(s.Pending), known(s.Source)})
	}
	p.aligned(table, "scan", "pictures", "with a record", "new", "failed", "open")
	return p.w.Flush()
}

// HistoryShow prints all that was ever measured of a crimp, the oldest first, and where it stands now.
func (t *Terminal) HistoryShow(s history.Standing, story history.Story) error {
	p := t.page()
	c := s.Crimp
	p.line("%s: %s", known(c.Called()), p.standing(c))
	if day := c.ReplacedBy(); day != "" {
		p.wrapped(2, "", wording.Clean(site.ReplacedText(day)))
	}
	if text := made(c.Label); text != "" {
		p.wrapped(2, "", text)
	}
	if s.Source != "" {
		p.wrapped(2, "scanned in: ", wording.Clean(s.Source))
	}
	for _, d := range c.Doubts {
		p.wrapped(2, "in doubt: ", wording.Clean(d))
	}
	for _, w := range c.Warnings {
		p.wrapped(2, "look into: ", wording.Clean(w))
	}
	for _, m := range story.Measurements {
		p.telling(s, m)
	}
	for _, f := range story.Failures {
		p.line("")
		p.line("%s  %s: no record, scan %d: %s", utc(f.Tried), known(f.File), f.Scan, counts(s, f.Counts(s), f.Scan))
		p.wrapped(2, "", wording.Clean(f.Why))
	}
	p.elsewhere(c)
	return p.w.Flush()
}

func (p *page) standing(c site.Crimp) string {
	switch c.Result {
	case "":
		return "not judged"
	case record.NotMeasured:
		return p.paint(c.Result, strings.ToUpper(wording.Result(c.Result)))
	}
	return fmt.Sprintf("%s, score %.1f of 100", p.paint(c.Result, strings.ToUpper(wording.Result(c.Result))), c.Score)
}

// made says who made a crimp, with which tool and when, as far as that is known.
func made(l site.Label) string {
	var parts []string
	for _, part := range [][2]string{{"crew", l.Crew}, {"tool", l.Tool}, {"trainee", l.Trainee}, {"made", l.Date}} {
		if part[1] != "" {
			parts = append(parts, part[0]+": "+wording.Clean(part[1]))
		}
	}
	if l.Own != "" {
		parts = append(parts, "the maker's own judgement: "+wording.Clean(wording.Result(l.Own)))
	}
	if l.Note != "" {
		parts = append(parts, "note: "+wording.Clean(l.Note))
	}
	return strings.Join(parts, "; ")
}

// counts says whether what a scan found counts now, and else why not.
func counts(s history.Standing, counts bool, scan int64) string {
	switch {
	case counts:
		return "counts now"
	case scan == s.Scan:
		return "does not count, the same view was taken again"
	case scan == 0:
		return "does not count, no scan took it for this crimp"
	}
	return fmt.Sprintf("replaced by scan %d", s.Scan)
}

// inScans names scans, those in a row by the first and the last one.
func inScans(ids []int64) string {
	switch len(ids) {
	case 0:
		return "no scan"
	case 1:
		return fmt.Sprintf("scan %d", ids[0])
	}
	var parts []string
	for i := 0; i < len(ids); {
		last := i
		for last+1 < len(ids) && ids[last+1] == ids[last]+1 {
			last++
		}
		if last < i+2 {
			last = i
			parts = append(parts, strconv.FormatInt(ids[i], 10))
		} else {
			parts = append(parts, fmt.Sprintf("%d to %d", ids[i], ids[last]))
		}
		i = last + 1
	}
	if end := len(parts) - 1; end > 0 {
		parts = []string{strings.Join(parts[:end], ", "), parts[end]}
	}
	return "scans " + strings.Join(parts, " and ")
}

func (p *page) telling(s history.Standing, m history.Telling) {
	p.line("")
	p.line("%s  %s: %s, %s: %s", utc(m.Measured), known(m.File), wording.View(m.Record.View), inScans(m.Scans), counts(s, m.Counts(s), m.Counted()))
	p.wrapped(2, "", "by "+wording.Clean(m.Program)+", asked for "+asked(m.Request))
	p.wrapped(2, "SHA-256 ", known(m.SHA256))
	if text := made(m.Label); text != "" {
		p.wrapped(2, "", text)
	}
	rec := m.Record
	if len(m.Verdicts) == 0 {
		p.measured(rec)
	}
	for i, j := range m.Verdicts {
		rec.Verdict = &m.Verdicts[i].Verdict
		result := wording.Result(rec.Verdict.Result)
		if rec.Verdict.Result != record.NotMeasured {
			result += fmt.Sprintf(", score %.1f of 100", rec.Verdict.Score)
		}
		p.wrapped(2, "", fmt.Sprintf("judged %s by \"%s\" in %s (SHA-256 %s): %s", utc(j.Judged), wording.Clean(j.Tolerances.Name), known(j.Tolerances.File),
			short(j.Tolerances.Hash), result))
		p.measured(rec)
	}
}

func short(hash string) string {
	if len(hash) > 12 {
		return hash[:12] + "..."
	}
	return known(hash)
}

func (p *page) measured(rec record.Record) {
	p.table(rec)
	p.section(rec)
	p.notes(rec)
	p.unmeasured(rec)
	p.retake(rec)
}

func (p *page) elsewhere(c site.Crimp) {
	if len(c.Elsewhere) == 0 {
		return
	}
	p.line("")
	if v := c.ElsewhereVerdict; v != nil {
		p.line("Measured elsewhere, judged by \"%s\": %s", wording.Clean(v.Tolerances), p.paint(v.Result, wording.Result(v.Result)))
	} else {
		p.line("Measured elsewhere")
	}
	table := [][]string{{"no.", "when", "what", "value", "limits", "result", "who", "added (UTC)"}}
	for i, e := range c.Elsewhere {
		f, judged := verdict.ElsewhereFeature(c.ElsewhereVerdict, c.Elsewhere, i)
		limits, result := "-", "-"
		switch {
		case e.NotJudged() != "":
			result = "not judged"
		case judged:
			limits, result = wording.Limits(f.Min, f.Max), wording.Result(f.Result)
		}
		table = append(table, []string{strconv.FormatInt(e.ID, 10), known(e.When), wording.Name("", e.Key), wording.Quantity(e.Value), limits, result, known(e.Who), utc(e.Added)})
	}
	p.aligned(table, "no.")
	for _, e := range c.Elsewhere {
		if remark := e.Remark(); remark != "" {
			p.wrapped(2, fmt.Sprintf("%d %s: ", e.ID, wording.Name("", e.Key)), wording.Clean(remark))
		}
	}
}

// HistoryAdded says what was added to a crimp, and how it is judged.
func (t *Terminal) HistoryAdded(c site.Crimp, n int) error {
	p := t.page()
	p.line("%s: %s added", known(c.Called()), counted(n, "value"))
	p.elsewhere(c)
	for _, d := range c.Doubts {
		p.wrapped(2, "in doubt: ", wording.Clean(d))
	}
	for _, w := range c.Warnings {
		p.wrapped(2, "look into: ", wording.Clean(w))
	}
	if len(c.Pictures) == 0 {
		p.line("")
		p.wrapped(0, "", "No picture of it was scanned yet: the page of the next scan shows it where that has pictures of the same string and trainee.")
	}
	return p.w.Flush()
}

// HistoryWithdrawn says that a value was withdrawn, and how the crimp is judged now.
func (t *Terminal) HistoryWithdrawn(c site.Crimp, number int64) error {
	p := t.page()
	p.line("%s: value %d withdrawn", known(c.Called()), number)
	p.elsewhere(c)
	return p.w.Flush()
}
