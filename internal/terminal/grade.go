package terminal

import (
	"fmt"
	"strconv"
	"strings"

	"crimprule/internal/grade"
	"crimprule/internal/wording"
)

// Grade prints how the trainees did: a table by name, then a few sentences a trainee. out is where the sheets lie.
func (t *Terminal) Grade(r grade.Report, out string) error {
	p := t.page()
	p.line("%s, by name; the mark is %s", trainees(r.Named()), r.Mark.Words())
	p.line("")
	p.columns([]string{"trainee", "mark", "crimps", "conform", "do not", "open", "yield (95 % interval)", "score", "row", "now", "kappa"}, gradeRows(r))
	p.gradeNotes(r)
	for _, one := range r.Trainees {
		p.trainee(one, r.Mark)
	}
	p.line("")
	if out != "" {
		p.wrapped(0, "", "Sheets: "+wording.Clean(out))
	}
	for _, l := range r.Limits {
		p.wrapped(0, "", "Judged by "+l.Words())
	}
	p.wrapped(0, "", grade.FewCrimps())
	p.wrapped(0, "", grade.Caution)
	return p.w.Flush()
}

func trainees(n int) string {
	if n == 1 {
		return "1 trainee"
	}
	return strconv.Itoa(n) + " trainees"
}

func gradeRows(r grade.Report) [][]string {
	rows := make([][]string, len(r.Trainees))
	for i, t := range r.Trainees {
		score := "-"
		if t.Score.Of > 0 {
			score = fmt.Sprintf("%.1f", t.Score.Mean)
		}
		longest, now := strconv.Itoa(t.Row.Longest), strconv.Itoa(t.Row.Current)
		if t.Row.Standing == grade.NoMark {
			longest, now = "-", "-"
		}
		rows[i] = []string{shortName(t.Called()), t.Row.Standing.Text(), strconv.Itoa(len(t.Crimps)), strconv.Itoa(t.Conforming), strconv.Itoa(t.NotConform),
			strconv.Itoa(t.Open()), t.Yield.Text(), score, longest, now, t.Agreement.KappaText()}
	}
	return rows
}

// gradeNotes prints what the table does not show: crimps that were passed though they are bad, other limits, pictures that
// nobody listed.
func (p *page) gradeNotes(r grade.Report) {
	var passed []string
	for _, t := range r.Trainees {
		if t.Agreement.TooKind > 0 {
			passed = append(passed, fmt.Sprintf("%s: %d", t.Called(), t.Agreement.TooKind))
		}
	}
	if len(passed) > 0 {
		p.wrapped(2, "", "passed as good, does not conform: "+strings.Join(passed, ", "))
	}
	for _, note := range []string{r.Unlike, r.UnlistedWords()} {
		if note != "" {
			p.line("")
			p.wrapped(2, "", note)
		}
	}
}

// mostName is how many characters a table has for a name.
const mostName = 36

// shortName leaves out the middle of a name that would make a table wider than a window; it stands in full elsewhere. Names that
// are nearly alike differ at their ends.
func shortName(name string) string {
	runes := []rune(name)
	if len(runes) <= mostName {
		return name
	}
	const tail = mostName / 3
	return string(runes[:mostName-1-tail]) + "…" + string(runes[len(runes)-tail:])
}

// columns prints columns under their names; those of numbers, from the third on, are set to the right.
func (p *page) columns(names []string, rows [][]string) {
	widths := make([]int, len(names))
	for _, row := range append([][]string{names}, rows...) {
		for i, cell := range row {
			widths[i] = widest(widths[i], cell)
		}
	}
	for _, row := range append([][]string{names}, rows...) {
		text := ""
		for i, cell := range row {
			text += "  " + padded(cell, widths[i], i > 1)
		}
		p.line("%s", text)
	}
}

func (p *page) trainee(t grade.Trainee, mark grade.Mark) {
	p.line("")
	p.line("%s", t.Called())
	p.wrapped(2, "", t.Words(mark))
	p.few("too few    ", t.Below(mark), func(c grade.Crimp) string { return c.BelowWords(mark) })
	p.few("open       ", t.OpenCrimps(), func(c grade.Crimp) string { return wording.Clean(c.Name) + ": " + wording.Clean(c.Why) })
	p.findings(t.Findings)
	p.inDoubt(t)
	if text := t.Wires.Text(); text != "" {
		p.line("  %s", text)
		p.findings(t.Wires.Findings)
	}
	if words := t.ProgressWords(); words != "" {
		p.wrapped(2, "progress   ", words)
	}
	if words := t.Agreement.Words(); words != "" {
		p.wrapped(2, "judgement  ", words)
	}
}

// mostLines is how many crimps are named for the same reason; the sheet has all.
const mostLines = 3

// few prints a line for each of the first crimps, and counts the others.
func (p *page) few(head string, crimps []grade.Crimp, words func(grade.Crimp) string) {
	for i, c := range crimps {
		if i == mostLines {
			p.wrapped(2, head, fmt.Sprintf("and %d more on the sheet", len(crimps)-i))
			return
		}
		p.wrapped(2, head, words(c))
	}
}

// findings prints what was done well, what not, what is open, and what to practise.
func (p *page) findings(f grade.Findings) {
	for _, g := range f.Well {
		p.wrapped(2, "well       ", g.Name)
	}
	for _, fault := range f.Faults {
		p.wrapped(2, "not well   ", fault.Title()+": "+fault.Words())
	}
	if f.Cause != nil {
		p.wrapped(2, "cause      ", f.Cause.Words())
	}
	if f.Practise != nil {
		name := f.Practise.Name
		if f.Cause != nil && len(f.Cause.Others) > 0 {
			name += " (for the first of these causes)"
		}
		p.wrapped(2, fmt.Sprintf("%-11s", f.Practise.Label()), name+". "+f.Practise.Do)
	}
	for _, u := range f.Unshown {
		p.wrapped(2, "not shown  ", u.Name+": "+u.Words()+" What would show it: "+u.Shows+".")
	}
	for _, photos := range f.Photos {
		p.wrapped(2, "photo      ", photos.Words())
	}
}

// mostDoubts is how many crimps in doubt are printed; the sheet has all.
const mostDoubts = 5

func (p *page) inDoubt(t grade.Trainee) {
	doubts := t.InDoubt()
	for i, c := range doubts {
		if i == mostDoubts {
			p.wrapped(2, "in doubt   ", fmt.Sprintf("%d more: see the sheet", len(doubts)-i))
			return
		}
		p.wrapped(2, "in doubt   ", wording.Clean(c.Name)+": "+c.DoubtWords())
	}
}
