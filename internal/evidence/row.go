package evidence

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// words name what is no crimp to be used.
func (k kind) words() string {
	return [...]string{"", "a section: this crimp is spent", "a stripped wire: no crimp yet", "no picture: known by values measured elsewhere only"}[k]
}

// kind is what the pictures of a crimp show, since what is to be done differs.
type kind int

const (
	madeCrimp   kind = iota // a crimp in a photo, or nothing is known
	cutSection              // a section only: the crimp is spent
	strippedEnd             // a stripped end only: no crimp yet
	testPiece               // no picture, values measured elsewhere only
)

// row is the light part of a crimp: what the list, the counts and the PDF show. All text is fit to be printed.
type row struct {
	Number                            int
	Name, String, Crew, Tool, Trainee string
	Result                            record.Result // empty: not judged
	Score                             string        // empty where there is none
	Thumb                             string        // path in the evidence
	Worst                             string        // Why
	Do                                string        // what to do, in short
	PutRight                          bool          // it was not measured for its file or a declaration: no new photo is needed
	Means                             string        // what the worst feature means, in a sentence; empty where nothing is wrong
	Value                             string        // the part of Worst that is its value; empty where there is none
	Rest                              string        // further values for the PDF, in a line
	Doubt                             string        // why its pictures do not prove it; empty where nothing speaks against them
	Warnings                          int
	Kind                              kind
	Replaced                          string // the day on which the crimp was made that took its place; empty where it stands
	Replaces                          bool   // it took the place of an earlier one
}

// newRow takes from a crimp what is kept of it.
func newRow(c site.Crimp) row {
	r := row{
		Number: c.Number, Name: wording.Clean(c.Called()), Result: c.Result, Kind: kindOf(c), Warnings: len(c.Warnings),
		Replaced: wording.Clean(c.ReplacedBy()), Replaces: c.Replaces(),
		String: wording.Clean(c.Label.String), Crew: wording.Clean(c.Label.Crew),
		Tool: wording.Clean(c.Label.Tool), Trainee: wording.Clean(c.Label.Trainee),
	}
	if scored(c) {
		r.Score = score(c.Score)
	}
	if len(c.Doubts) > 0 {
		r.Doubt = wording.Clean(strings.Join(c.Doubts, "; "))
	}
	for _, p := range c.Pictures {
		if p.Thumb != "" && (r.Thumb == "" || p.Usable()) {
			r.Thumb = p.Thumb
			if p.Usable() {
				break
			}
		}
	}
	judged := judgedOf(c)
	r.Worst, r.Means = why(c, judged)
	r.Do = action(c.Result, r.Kind)
	if r.PutRight = c.PutRight(); r.PutRight {
		r.Do = "put the file or the call right"
	}
	if r.Trainee != "" && r.Kind == madeCrimp && c.Result == record.DoesNotConform {
		r.Do = "find the cause, practise, and make another one"
	}
	if c.Result == record.NotProven && len(c.Doubts) > 0 && (len(judged) == 0 || judged[0].feature.Result != record.NotProven) {
		r.Do = "settle the doubt; where it stays, photograph again"
	}
	if r.Replaced != "" {
		r.Do = "nothing: it was made anew"
	}
	r.values(c, judged)
	return r
}

// values fills in Value and Rest: the values of a crimp that were judged, the one that decided first, and all that were
// measured elsewhere.
func (r *row) values(c site.Crimp, judged []judgement) {
	var values []fact
	for _, j := range judged {
		if j.feature.Value != nil && j.view != elsewhere {
			values = append(values, fact{wording.Name(j.view, j.feature.Key), glued(shown(featureValue(j.feature)))})
		}
	}
	if c.Result == "" {
		values = unjudgedValues(c)
	}
	values = append(values, elsewhereValues(c)...)
	if len(judged) > 0 && judged[0].feature.Value != nil {
		if v := shown(featureValue(judged[0].feature)); strings.Contains(r.Worst, v) {
			r.Value = v
			if judged[0].view != elsewhere && c.Result != "" {
				values = values[1:] // it need not stand there twice
			}
		}
	}
	parts := make([]string, len(values))
	for i, v := range values {
		parts[i] = v.Name + " " + v.Text
	}
	r.Rest = strings.Join(parts, "; ")
}

// elsewhereValues are the values that were measured elsewhere, with who and when.
func elsewhereValues(c site.Crimp) []fact {
	var values []fact
	for _, e := range c.Elsewhere {
		text := glued(shown(e.Value)) + " (elsewhere, by " + wording.Clean(e.Who) + ", " + wording.Clean(e.When)
		if why := e.NotJudged(); why != "" {
			text += ", not judged: " + wording.Clean(why)
		}
		values = append(values, fact{wording.Name(elsewhere, e.Key), text + ")"})
	}
	return values
}

// Of more crimps than fullRows the PDF shows but fewValues of each one that conforms, beside the one that decided: what the
// rows hold is kept until the document is written. The page and the CSV have all.
const fullRows, fewValues = 1000, 2

// shorten leaves out values.
func (r *row) shorten() {
	parts := strings.Split(r.Rest, "; ")
	if more := len(parts) - fewValues; more > 0 {
		r.Rest = strings.Join(parts[:fewValues], "; ") + fmt.Sprintf("; and %d more in crimps.csv", more)
	}
}

// scored tells whether a crimp has a score: one that was not judged has none, and neither has one of which a picture that
// came to nothing decided.
func scored(c site.Crimp) bool {
	return c.Result != "" && (c.Result != record.NotMeasured || unusable(c) == "")
}

// ScoreText is the score, or a dash.
func (r row) ScoreText() string { return cmp.Or(r.Score, "–") }

func score(v float64) string { return fmt.Sprintf("%.1f", v) }

func kindOf(c site.Crimp) kind {
	if len(c.Pictures) == 0 && len(c.Elsewhere) > 0 {
		return testPiece
	}
	if c.Stripped() {
		return strippedEnd
	}
	section := false
	for _, p := range c.Pictures {
		if p.Record == nil {
			section = section || p.Asked == record.Section
			continue
		}
		switch p.Record.View {
		case record.Section:
			section = true
		case record.Seam, record.Side:
			return madeCrimp
		}
	}
	if section {
		return cutSection
	}
	return madeCrimp
}

// action is the advice in a few words.
func action(result record.Result, k kind) string {
	switch result {
	case record.DoesNotConform:
		return [...]string{"make anew with a new contact", "hold back what this set-up made", "cut off and strip anew",
			"hold back what this set-up made"}[k]
	case record.NotProven:
		return [...]string{"take a closer picture, or make anew", "take a sharper picture, or cut another crimp",
			"take a closer picture, or strip anew", "measure with a smaller uncertainty, or another crimp"}[k]
	case record.NotMeasured:
		return [...]string{"photograph again", "photograph again", "photograph again", "measure again"}[k]
	case record.Conforms:
		return [...]string{"nothing on these pictures", "nothing on these pictures", "nothing on these pictures", "nothing by these values"}[k]
	}
	return "give limits to judge it by"
}

// Who names crew, tool and trainee, each with what it is where its name does not say so.
func (r row) Who() []string {
	var all []string
	for _, part := range []fact{{"crew", r.Crew}, {"tool", r.Tool}, {"trainee", r.Trainee}} {
		if part.Text != "" {
			all = append(all, called(part.Name, part.Text))
		}
	}
	if r.Replaced != "" {
		all = append(all, site.ReplacedText(r.Replaced))
	}
	return all
}

// called puts what a thing is before its name, where the name does not say so itself.
func called(what, name string) string {
	if strings.HasPrefix(strings.ToLower(name), what) {
		return name
	}
	return what + " " + name
}

// unjudgedValues are the values of a crimp without limits, in reading order.
func unjudgedValues(c site.Crimp) []fact {
	var values []fact
	for _, p := range c.Pictures {
		if !p.Usable() {
			continue
		}
		for _, g := range wording.Groups(p.Record.View, measuredKeys(*p.Record)) {
			for _, key := range g.Keys {
				values = append(values, fact{wording.Name(p.Record.View, key), glued(shown(p.Record.Measured[key]))})
			}
		}
	}
	return values
}

// measuredKeys gives the keys of a record's values; map order must not show.
func measuredKeys(rec record.Record) []record.Key {
	keys := make([]record.Key, 0, len(rec.Measured))
	for key := range rec.Measured {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}

// unique gives the keys sorted, each once.
func unique(keys []record.Key) []record.Key {
	slices.Sort(keys)
	return slices.Compact(keys)
}

// Wire tells whether it is a stripped wire and no crimp.
func (r row) Wire() bool { return r.Kind == strippedEnd }

// What says what it is, where it is no crimp to be used.
func (r row) What() string { return r.Kind.words() }

// Badge is how its result is shown.
func (r row) Badge() badge { return badgeOf(r.Result) }

// Class is what the list sorts it under: its result, or that it was replaced.
func (r row) Class() string {
	if r.Replaced != "" {
		return replacedBadge.Class
	}
	return badgeOf(r.Result).Class
}

// urgency orders crimps of one result: what can be mended first, and what needs a new photo before what does not.
func (r row) urgency() int {
	switch {
	case r.Replaced != "":
	case r.Result == record.DoesNotConform:
		return r.Kind.urgency()
	case r.PutRight:
		return 1
	}
	return 0
}

// place is where in the list crimps of its kind stand: what must be done first in front, what was replaced last.
func (r row) place() int {
	if r.Replaced != "" {
		return len(order)
	}
	return slices.Index(order, r.Result)
}
