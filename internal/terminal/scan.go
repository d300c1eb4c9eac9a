package terminal

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Progress tells on standard error how far a scan has come: a bar on a terminal, elsewhere a plain line now and then, so
// that a log stays short.
type Progress struct {
	out   io.Writer
	bar   *progressbar.ProgressBar // nil where there is no terminal
	now   func() time.Time
	total int
	known int // from an earlier call
	done  int
	began time.Time
	told  time.Time
}

// plainEvery is how often a line is written where there is no terminal.
const plainEvery = 15 * time.Second

// ScanBegins says on standard error what is going to be scanned.
func (t *Terminal) ScanBegins(pictures, known int, leftAlone, manifests []string) {
	text := counted(pictures, "picture")
	for i, manifest := range manifests {
		text += []string{" with the manifest ", ", "}[min(i, 1)] + wording.Clean(manifest)
	}
	if known > 0 {
		text += fmt.Sprintf("; %d of them are known from a call that was interrupted", known)
	}
	if n := len(leftAlone); n > 0 {
		text += "; left alone: " + strings.Join(quotedNames(leftAlone[:min(n, namedAtOnce)]), ", ")
		if n > namedAtOnce {
			text += fmt.Sprintf(" and %d more", n-namedAtOnce)
		}
	}
	_, _ = fmt.Fprintf(t.err, "crimprule: %s\n", text)
}

// namedAtOnce is how many of the files that are left alone are named; the evidence has more.
const namedAtOnce = 3

func quotedNames(names []string) []string {
	quoted := make([]string, len(names))
	for i, name := range names {
		quoted[i] = fmt.Sprintf("%q", wording.Clean(name))
	}
	return quoted
}

// Notes says on standard error what else a person must look into.
func (t *Terminal) Notes(notes []string) {
	for _, note := range notes {
		_, _ = fmt.Fprintf(t.err, "crimprule: mind: %s\n", wording.Clean(note))
	}
}

// ScanChanged says on standard error which files of a watched folder are measured again and which are gone.
func (t *Terminal) ScanChanged(again, gone []string) {
	for _, file := range again {
		_, _ = fmt.Fprintf(t.err, "crimprule: %q was changed: it is measured again\n", file)
	}
	for _, file := range gone {
		_, _ = fmt.Fprintf(t.err, "crimprule: %q is no picture of this scan any more: it is gone from its place\n", file)
	}
}

// Waiting says on standard error why a watched folder cannot be looked through for now.
func (t *Terminal) Waiting(why error) {
	_, _ = fmt.Fprintf(t.err, "crimprule: waiting: %s\n", wording.Clean(why.Error()))
}

// Progress begins to tell of total pictures that are measured, of which known are known already.
func (t *Terminal) Progress(total, known int) *Progress { return t.progress("measuring", total, known) }

// Drawing begins to tell of total pictures that are drawn.
func (t *Terminal) Drawing(total int) *Progress { return t.progress("drawing", total, 0) }

func (t *Terminal) progress(what string, total, known int) *Progress {
	p := &Progress{out: t.err, now: time.Now, total: total, known: known, done: known}
	p.began, p.told = p.now(), p.now()
	if file, ok := t.err.(*os.File); ok && term.IsTerminal(int(file.Fd())) {
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(file), progressbar.OptionShowCount(), progressbar.OptionShowIts(),
			progressbar.OptionSetItsString("pictures"), progressbar.OptionSetPredictTime(true), progressbar.OptionClearOnFinish(),
			progressbar.OptionSetDescription(what), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionUseANSICodes(true))
		_ = p.bar.Set(known)
	}
	return p
}

// Set says that so many pictures are known now.
func (p *Progress) Set(done int) {
	p.done = done
	if p.bar != nil {
		_ = p.bar.Set(done)
		return
	}
	if p.now().Sub(p.told) < plainEvery || done >= p.total {
		return
	}
	p.told = p.now()
	_, _ = fmt.Fprintf(p.out, "crimprule: %s\n", p.text())
}

// text is a line such as "120 of 800 pictures, 1.9 a second, 6 min left".
func (p *Progress) text() string {
	text := fmt.Sprintf("%d of %d pictures", p.done, p.total)
	seconds := p.now().Sub(p.began).Seconds()
	fresh := p.done - p.known
	if fresh <= 0 || seconds <= 0 {
		return text
	}
	rate := float64(fresh) / seconds
	return fmt.Sprintf("%s, %.1f a second, %s left", text, rate, lasting(time.Duration(float64(p.total-p.done)/rate*float64(time.Second))))
}

func lasting(d time.Duration) string {
	switch {
	case d >= 2*time.Hour:
		return fmt.Sprintf("%.1f h", d.Hours())
	case d >= 2*time.Minute:
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return fmt.Sprintf("%.0f s", d.Seconds())
}

// Hide takes the bar away, so that something else can be written; it comes back with the next Set.
func (p *Progress) Hide() {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}

// ScanLine is one crimp in the list that ends a scan.
type ScanLine struct {
	Number   int
	Name     string
	Result   record.Result
	Why      string
	Doubt    string // why its pictures do not prove it
	Stripped bool   // a stripped wire, and no crimp yet
	PutRight bool   // it was not measured for its file or a declaration: no new photo is needed
	Cut      bool   // a section, Tested: without a picture; nobody can make either anew
	Tested   bool
	Remarks  int    // what else its page asks a person to look into
	Replaced string // the day on which the crimp was made that took its place; empty where it stands
}

// ScanReport is what a scan says at its end.
type ScanReport struct {
	Pictures, Unreadable int
	Crimps               []ScanLine
	Missing              []string // what an earlier scan found bad or open and this one has no picture of
	Replaced             []string // sentences: what of that was made anew since, and is not among Missing
	Refused              []string // pictures that ask for a better one and are told nowhere above
	Untested             string   // which limits of values measured elsewhere have no value; empty where none
	Question, Answer     string   // whether the crimps may be used, or conform
	Practice             bool     // they are practice pieces
	Yield                string   // in words, empty where nothing was judged
	Lot                  string   // in words, empty where none was asked for
	Out, History         string
	Manifest             string // SHA-256 of the evidence's manifest
	Cautions             []string
}

// listed is how many crimps of a kind the terminal lists; the page has all.
const listed = 20

// Scan prints how a scan ended: what is to be done first.
func (t *Terminal) Scan(r ScanReport) error {
	p := t.page()
	p.line("%s, %s", counted(r.Pictures, "picture"), crimpsAndWires(r.Crimps))
	for _, kind := range r.kinds() {
		p.crimps(r.Crimps, kind)
	}
	p.replaced(r.Crimps, r.Replaced)
	p.doubts(r.Crimps)
	p.refused(r.Refused)
	p.missing(r.Missing)
	p.line("")
	for _, text := range []string{strings.TrimSpace(r.Question + " " + r.Answer), r.Untested, r.Yield, r.Lot} {
		if text != "" {
			p.wrapped(0, "", text)
		}
	}
	p.line("")
	p.line("Evidence: %s (open index.html; evidence.pdf is for the file)", wording.Clean(r.Out))
	p.line("          its manifest has the SHA-256 %s: note it elsewhere, and nobody can change the pack unseen", r.Manifest)
	p.line("History:  %s", wording.Clean(r.History))
	p.line("")
	for _, caution := range r.Cautions {
		p.wrapped(0, "", caution)
	}
	return p.w.Flush()
}

// kind is what is to be done about some crimps.
type kind struct {
	title string
	of    func(ScanLine) bool
	named bool // one by one
}

// kinds are those that there can be, what must be done first in front.
func (r ScanReport) kinds() []kind {
	is := func(result record.Result) func(ScanLine) bool {
		return func(c ScanLine) bool { return c.Result == result }
	}
	bad := func(of func(ScanLine) bool) func(ScanLine) bool {
		return func(c ScanLine) bool { return c.Result == record.DoesNotConform && of(c) }
	}
	anew := "MAKE ANEW"
	if r.Practice {
		anew = "PRACTISE"
	}
	return []kind{
		{anew + ": does not conform", bad(func(c ScanLine) bool { return !c.Stripped && !c.Cut && !c.Tested }), true},
		{"STRIP ANEW: does not conform", bad(func(c ScanLine) bool { return c.Stripped }), true},
		{"HOLD BACK what this set-up made: does not conform", bad(func(c ScanLine) bool { return c.Cut || c.Tested }), true},
		{"LOOK INTO: not proven either way", is(record.NotProven), true},
		{"PHOTOGRAPH ANEW: not measured", func(c ScanLine) bool { return c.Result == record.NotMeasured && !c.PutRight }, true},
		{"PUT RIGHT HERE, without a new photo: not measured", func(c ScanLine) bool { return c.Result == record.NotMeasured && c.PutRight }, true},
		{"conform", is(record.Conforms), false},
		{"not judged: there were no limits for them", is(""), false},
	}
}

func (p *page) crimps(all []ScanLine, k kind) {
	var some []ScanLine
	for _, c := range all {
		if k.of(c) && c.Replaced == "" {
			some = append(some, c)
		}
	}
	if len(some) == 0 {
		return
	}
	p.line("")
	p.line("%s: %s", k.title, crimpsAndWires(some))
	if !k.named {
		return
	}
	p.named(len(some), func(i int) (lead, text string) {
		return fmt.Sprintf("%d  ", some[i].Number), wording.Clean(some[i].Name) + ": " + wording.Clean(some[i].Why)
	})
}

// named lists the first of n things, each with what stands before it, and says how many more there are.
func (p *page) named(n int, line func(i int) (lead, text string)) {
	for i := range min(n, listed) {
		lead, text := line(i)
		p.wrapped(2, lead, text)
	}
	if n > listed {
		p.line("  and %d more: see the page", n-listed)
	}
}

// replaced names what was made anew since: of this scan, and of those whose pictures are gone.
func (p *page) replaced(all []ScanLine, gone []string) {
	type line struct{ lead, text string }
	var lines []line
	for _, c := range all {
		if c.Replaced != "" {
			lines = append(lines, line{fmt.Sprintf("%d  ", c.Number), wording.Clean(c.Name + ": " + judgedAs(c.Result) + ", " + site.ReplacedText(c.Replaced))})
		}
	}
	for _, text := range gone {
		lines = append(lines, line{"", wording.Clean(text)})
	}
	if len(lines) == 0 {
		return
	}
	p.line("")
	p.line("replaced by crimps that were made anew: %s", counted(len(lines), "crimp"))
	p.named(len(lines), func(i int) (lead, text string) { return lines[i].lead, lines[i].text })
}

// doubts names what its pictures do not prove, whatever they show.
func (p *page) doubts(all []ScanLine) {
	remarks, doubts := 0, 0
	var some []ScanLine
	for _, c := range all {
		if c.Replaced != "" {
			continue
		}
		if c.Remarks > 0 {
			remarks++
		}
		if c.Doubt == "" {
			continue
		}
		doubts++
		if c.Doubt != c.Why { // else it was told above
			some = append(some, c)
		}
	}
	if doubts > 0 {
		p.line("")
		p.line("FIND OUT: %s in doubt%s", counted(doubts, "crimp"), toldAbove(doubts-len(some)))
	}
	p.named(len(some), func(i int) (lead, text string) {
		return fmt.Sprintf("%d  ", some[i].Number), wording.Clean(some[i].Name) + ": " + wording.Clean(some[i].Doubt)
	})
	if remarks > 0 {
		p.line("")
		p.line("%s with a remark: see the page", counted(remarks, "crimp"))
	}
}

// toldAbove says of how many things the list above has said it.
func toldAbove(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(", %d of them told above", n)
}

// refused names pictures that ask for a better one and stand for no crimp above.
func (p *page) refused(all []string) {
	if len(all) == 0 {
		return
	}
	p.line("")
	p.line("pictures that ask for a better one beside those told above: %s", counted(len(all), "picture"))
	p.named(len(all), func(i int) (lead, text string) { return "", all[i] })
}

// missing names what was bad or open in an earlier scan of the same place and has no picture in this one.
func (p *page) missing(names []string) {
	if len(names) == 0 {
		return
	}
	p.line("")
	p.line("NOT AMONG THESE PICTURES, though an earlier scan found it bad or open: %d", len(names))
	p.named(len(names), func(i int) (lead, text string) { return "", wording.Clean(names[i]) })
}

// crimpsAndWires counts crimps, and stripped wires apart from them; where all crimps are sections they are called so.
func crimpsAndWires(lines []ScanLine) string {
	wires, cut := 0, 0
	for _, c := range lines {
		switch {
		case c.Stripped:
			wires++
		case c.Cut:
			cut++
		}
	}
	crimps, noun := len(lines)-wires, "crimp"
	if cut == crimps {
		noun = "section"
	}
	switch {
	case wires == 0 && crimps > 0:
		return counted(crimps, noun)
	case wires == 0:
		return counted(0, "crimp")
	case crimps == 0:
		return counted(wires, "stripped wire")
	}
	return counted(crimps, noun) + ", " + counted(wires, "stripped wire")
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
