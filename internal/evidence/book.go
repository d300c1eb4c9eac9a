package evidence

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/internal/verdict"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// order is that in which results are listed: what must be done first stands first. The empty one is "not judged".
var order = []record.Result{record.DoesNotConform, record.NotMeasured, record.NotProven, "", record.Conforms}

// book keeps what all outputs need of a scan while its crimps pass by.
type book struct {
	info     Info
	rows     []row
	pictures int
	refusals []failure // pictures that ask for a better one
	failures []failure
	tallies  map[record.Result]tally // of those that stand
	replaced tally                   // those that were made anew since
	views    []record.View           // that were measured
	warned   int                     // crimps with warnings; those that were replaced are not counted, here and below
	doubted  int                     // crimps with doubts
	putRight int                     // crimps that were not measured for their files or declarations
	noted    int                     // crimps with any of both
	unread   int                     // pictures that could not be read, of crimps that are not said to be unmeasured for it
	// elsewhere are the values measured elsewhere that were judged, unjudged those that were not.
	elsewhere, unjudged int
	entered             entered
	drift               drift
	texts               map[string]string // see once
}

// failure is a picture without a record, or one that asks for a better one.
type failure struct {
	File, Reason string
	Crimp        int
	Name         string // of the crimp
}

// Text says what is wrong with the picture.
func (f failure) Text() string { return f.File + ": " + f.Reason }

// Page is the crimp's page, seen from the list.
func (f failure) Page() string { return "crimps/" + crimpFile(f.Crimp) }

func newBook(info Info) *book {
	return &book{info: info, tallies: map[record.Result]tally{}, texts: map[string]string{}}
}

// take counts a crimp and keeps its light part.
func (b *book) take(c site.Crimp) {
	r := newRow(c)
	if len(b.rows) >= fullRows && r.Result == record.Conforms {
		r.shorten()
	}
	for _, text := range []*string{&r.String, &r.Crew, &r.Tool, &r.Trainee, &r.Means} {
		*text = b.once(*text)
	}
	b.rows = append(b.rows, r)
	if r.Replaced != "" {
		b.replaced.add(r.Kind)
	} else {
		t := b.tallies[c.Result]
		t.add(r.Kind)
		b.tallies[c.Result] = t
		if r.PutRight {
			b.putRight++
		}
	}
	if r.Replaced == "" {
		doubt, warn := r.Doubt != "", r.Warnings > 0
		b.doubted, b.warned, b.noted = b.doubted+one(doubt), b.warned+one(warn), b.noted+one(doubt || warn)
	}
	b.entered.take(c, r)
	for i := range c.Elsewhere {
		if _, judged := verdict.ElsewhereFeature(c.ElsewhereVerdict, c.Elsewhere, i); judged {
			b.elsewhere++
		} else {
			b.unjudged++
		}
	}
	for i, p := range c.Pictures {
		b.pictures++
		switch {
		case p.Record == nil:
			b.failures = append(b.failures, failure{wording.Clean(p.File), wording.Clean(p.Failure), c.Number, r.Name})
			if c.Result != record.NotMeasured && r.Replaced == "" {
				b.unread++
			}
		case p.Refused():
			reason := wording.Clean(strings.Join(p.Record.Retake, "; "))
			if c.Retaken(i) {
				reason += retaken
			}
			b.refusals = append(b.refusals, failure{wording.Clean(p.File), reason, c.Number, r.Name})
		case !slices.Contains(b.views, p.Record.View):
			b.views = append(b.views, p.Record.View)
		}
	}
	b.drift.take(c, r.Name)
}

// one is 1 where something is so.
func one(so bool) int {
	if so {
		return 1
	}
	return 0
}

// once keeps a text that many crimps have once, and none that it was cut from.
func (b *book) once(text string) string {
	kept, known := b.texts[text]
	if !known {
		kept = strings.Clone(text)
		b.texts[kept] = kept
	}
	return kept
}

// listed are the rows in the order of the list: what must be done first, what was replaced last, then in the order of the
// scan.
func (b *book) listed() []*row {
	rows := make([]*row, len(b.rows))
	for i := range b.rows {
		rows[i] = &b.rows[i]
	}
	slices.SortStableFunc(rows, func(a, c *row) int { return cmp.Or(a.place()-c.place(), a.urgency()-c.urgency()) })
	return rows
}

// places gives for each crimp its place in the order of the names.
func (b *book) places() []int {
	order := make([]int, len(b.rows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return ByName(b.rows[i].Name, b.rows[j].Name) })
	places := make([]int, len(order))
	for place, i := range order {
		places[i] = place
	}
	return places
}

// share is a yield: how many of the judged crimps are proven to conform.
type share struct {
	Name              string
	Conforming, Of    int // Of: judged and measured
	NotMeasured, None int // left out: not measured, not judged
	Gone              int // left out: known from an earlier scan, and their pictures are gone
	Low, High         float64
}

// add counts a crimp in.
func (s *share) add(result record.Result) {
	switch result {
	case record.Conforms:
		s.Conforming++
		s.Of++
	case record.DoesNotConform, record.NotProven:
		s.Of++
	case record.NotMeasured:
		s.NotMeasured++
	default:
		s.None++
	}
}

// yieldMeaning explains a yield.
const yieldMeaning = "The share of crimps that are proven to conform, of those that were judged and measured; in brackets the interval that holds the true " +
	"share with 95 % confidence (Clopper and Pearson), if these crimps stand for all that are made so. What was not measured is left out and named; a crimp that was made anew since counts as it was made."

// Text is the share in per cent with its interval.
func (s share) Text() string {
	if s.Of == 0 {
		return "none judged"
	}
	return fmt.Sprintf("%s %% (%s to %s %%)", percent(float64(s.Conforming)/float64(s.Of)), percent(s.Low), percent(s.High))
}

// Full is the share with the counts behind it and what it leaves out.
func (s share) Full() string {
	text := fmt.Sprintf("%s, %d of %d", s.Text(), s.Conforming, s.Of)
	if s.NotMeasured > 0 {
		text += fmt.Sprintf("; %d not measured", s.NotMeasured)
	}
	if s.None > 0 {
		text += fmt.Sprintf("; %d not judged", s.None)
	}
	if s.Gone > 0 {
		text += "; " + LeftOut(s.Gone)
	}
	return text
}

// LeftOut says of a yield how many crimps it leaves out since their pictures are gone.
func LeftOut(n int) string {
	return plural(n, "crimp of earlier pictures is", "crimps of earlier pictures are") + " left out"
}

// percent writes a share with one decimal.
func percent(v float64) string { return fmt.Sprintf("%.1f", 100*v) }

// yield is the share over the crimps for which keep holds, with its interval. Stripped wires are no crimps.
func (b *book) yield(name string, keep func(row) bool) share {
	s := share{Name: name, Gone: len(b.info.Missing)}
	for _, r := range b.rows {
		if r.Kind != strippedEnd && keep(r) {
			s.add(r.Result)
		}
	}
	if s.Of > 0 {
		s.Low, s.High = statistics.ClopperPearson(s.Conforming, s.Of, statistics.Usual)
	}
	return s
}

// grouping is the yields by one part of the labels.
type grouping struct {
	Title  string
	Shares []share
}

// named are the parts of the labels that crimps are grouped by.
var named = []struct {
	title string
	of    func(row) string
}{
	{"string", func(r row) string { return r.String }},
	{"crew", func(r row) string { return r.Crew }},
	{"tool", func(r row) string { return r.Tool }},
	{"trainee", func(r row) string { return r.Trainee }},
}

// groupings gives the yields by string, crew, tool and trainee, as far as labels name them.
func (b *book) groupings() []grouping {
	var all []grouping
	for _, g := range named {
		if shares := b.sharesBy(g.of); shares != nil {
			all = append(all, grouping{g.title, shares})
		}
	}
	return all
}

// sharesBy gives a share for each name of a crimp, in the order of the names, those without a name last; nil where none has
// one.
func (b *book) sharesBy(of func(row) string) []share {
	at := map[string]*share{}
	for _, r := range b.rows {
		if r.Kind == strippedEnd {
			continue
		}
		name := of(r)
		if at[name] == nil {
			at[name] = &share{Name: name}
		}
		at[name].add(r.Result)
	}
	names := make([]string, 0, len(at))
	for name := range at {
		names = append(names, name)
	}
	slices.SortFunc(names, ByName)
	if len(names) == 0 || len(names) == 1 && names[0] == "" {
		return nil
	}
	shares := make([]share, len(names))
	for i, name := range names {
		s := at[name]
		if s.Of > 0 {
			s.Low, s.High = statistics.ClopperPearson(s.Conforming, s.Of, statistics.Usual)
		}
		shares[i] = *s
	}
	return shares
}

// Summary is what a scan came to, for a caller to print. Stripped wires are no crimps: Wires counts them, and neither
// Crimps, Results nor the yield does.
type Summary struct {
	Crimps   int // sections among them
	Wires    int
	Pictures int
	Refused  int                   // pictures that ask for a better one
	Failed   int                   // pictures without a record
	Warned   int                   // crimps with warnings that a person must look into; those that were replaced are not counted
	Doubted  int                   // crimps with doubts, which keep them from conforming; those that were replaced are not counted
	Missing  int                   // crimps that an earlier scan did not find to conform and whose pictures are gone
	Results  map[record.Result]int // crimps that stand by result; "": not judged
	Replaced int                   // crimps that were made anew since, of whatever result
	// Conforming of Judged crimps conform; the true share lies between Low and High with 95 % confidence.
	// LeftOut of the yield are crimps that an earlier scan found bad or open and whose pictures are gone.
	Conforming, Judged, LeftOut int
	Low, High                   float64
	Question                    string        // "May this be energised?", or what suits sections and practice pieces
	Untested                    string        // which limits of values measured elsewhere have no value
	Answer                      string        // to it; never yes by itself to the first one
	Practice                    bool          // it is about practice pieces
	Lot                         *LotJudgement // nil where there is no plan
	Manifest                    string        // SHA-256 of the manifest; whoever keeps it can tell that the manifest is the one written
}

func (b *book) summary() Summary {
	y := b.yield("", func(row) bool { return true })
	results := map[record.Result]int{}
	for result, t := range b.tallies {
		if t.Crimps > 0 {
			results[result] = t.Crimps
		}
	}
	return Summary{
		Crimps: b.total().Crimps, Wires: b.total().Wires, Pictures: b.pictures, Refused: len(b.refusals), Failed: len(b.failures), Warned: b.warned, Doubted: b.doubted, Missing: len(b.gone()),
		Results: results, Replaced: b.replaced.Crimps, Conforming: y.Conforming, Judged: y.Of, LeftOut: y.Gone, Low: y.Low, High: y.High, Question: b.question(), Answer: b.answer().Head, Untested: b.untested(), Practice: b.matter() == practice, Lot: b.lot(),
	}
}
