package grade

import (
	"cmp"
	"slices"
	"strings"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// gathered is what is kept of a trainee's crimps while the scan passes by.
type gathered struct {
	crimps, wires pile
	own           ownTable
	limits        limitsSet
	missing       []Missing
}

// pile is what is kept of crimps, or of stripped wires.
type pile struct {
	all      []Crimp
	features features
	photos   photos
}

// take counts a crimp in.
func (g *gathered) take(c site.Crimp, o Options) {
	light := Crimp{Number: c.Number, Name: c.Name(), Date: dateOf(c), Result: c.Result, Score: c.Score, Own: c.Label.Own, Doubts: c.Doubts,
		line: lineOf(c, o.Line), sums: sumsOf(c), limits: limitsOf(c, o.Tolerances)}
	light.CostMost = costMost(c, o)
	g.limits.add(light.limits...)
	contradicts := ownContradicts(c)
	if contradicts {
		light.Own = ""
	}
	if stripped(c) {
		g.wires.take(c, light)
		return
	}
	g.crimps.take(c, light)
	g.own.take(light.Name, light.Own, c.Result, contradicts)
}

func (p *pile) take(c site.Crimp, light Crimp) {
	light.Faults = p.features.take(c)
	light.Why = whyOf(c, light.Faults)
	if c.Result == record.DoesNotConform {
		light.Drawing = drawingOf(c)
	}
	p.photos.take(c)
	p.all = append(p.all, light)
}

// stripped tells whether a crimp is a stripped wire: all that was measured of it or, where nothing was, all that was to be
// shown.
func stripped(c site.Crimp) bool {
	if c.Stripped() {
		return true
	}
	for _, p := range c.Pictures {
		told := p.Record != nil && p.Record.View != record.Auto
		if p.Usable() || told && p.Record.View != record.Strip || !told && p.Asked != record.Strip {
			return false
		}
	}
	return len(c.Pictures) > 0
}

// ownContradicts tells whether the manifest has two own judgements of one crimp: then nobody knows which one counts.
func ownContradicts(c site.Crimp) bool {
	return slices.ContainsFunc(c.Pictures, func(p site.Picture) bool { return p.Label.Own != "" && p.Label.Own != c.Label.Own })
}

// dateOf is the day on which a crimp was made or, where nobody says, its first picture taken; of one without a picture the last day on
// which it was measured elsewhere. It is empty where that is unknown too.
func dateOf(c site.Crimp) string {
	if c.Label.Date != "" {
		return c.Label.Date
	}
	const day = len("2006-01-02")
	for _, p := range c.Pictures {
		if taken := p.Taken(); len(taken) >= day {
			return taken[:day]
		}
	}
	if len(c.Pictures) > 0 {
		return ""
	}
	latest := ""
	for _, e := range c.Elsewhere {
		if e.NotJudged() == "" {
			latest = max(latest, e.When)
		}
	}
	return latest
}

// whyOf says why a crimp is what it is: what does not conform, else what is in doubt or kept it from being measured,
// proven or judged. It is never empty but for a crimp that conforms.
func whyOf(c site.Crimp, faults []string) string {
	var parts []string
	switch {
	case c.Result == record.Conforms:
		return ""
	case c.Result == record.DoesNotConform && len(faults) > 0:
		parts = append(parts, strings.Join(faults, "; "))
	case c.Result == record.NotProven:
		if open := namesOf(c, record.NotProven); len(open) > 0 {
			parts = append(parts, "not proven: "+strings.Join(open, "; "))
		}
	default:
		parts = append(parts, cmp.Or(evidence.Why(c), "there were no limits to judge it by"))
	}
	for _, doubt := range c.Doubts {
		parts = append(parts, "in doubt: "+wording.Clean(doubt))
	}
	return cmp.Or(strings.Join(parts, "; "), evidence.Why(c), wording.Result(c.Result))
}

// namesOf names the features that came out so, each once.
func namesOf(c site.Crimp, result record.Result) []string {
	var names []string
	for _, j := range judgedOf(c) {
		if name := wording.Name(j.view, j.Key); j.Result == result && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

// drawingOf is the overlay of the worst picture that has one.
func drawingOf(c site.Crimp) string {
	drawing, least := "", 0.0
	for _, p := range c.Pictures {
		if p.Overlay == "" || !p.Usable() || p.Record.Verdict == nil || p.Record.Verdict.Result != record.DoesNotConform {
			continue
		}
		if score := p.Record.Verdict.Score; drawing == "" || score < least {
			drawing, least = p.Overlay, score
		}
	}
	return drawing
}

// sumsOf lists the hashes of a crimp's pictures.
func sumsOf(c site.Crimp) []string {
	var sums []string
	for _, p := range c.Pictures {
		if p.SHA256 != "" {
			sums = append(sums, p.SHA256)
		}
	}
	return sums
}

// lineOf is the first line of the manifests that has a picture of the crimp; 0 where none has.
func lineOf(c site.Crimp, line func(string) int) int {
	first := 0
	for _, p := range c.Pictures {
		if line == nil {
			break
		}
		if at := line(p.File); at > 0 && (first == 0 || at < first) {
			first = at
		}
	}
	return first
}

// trainee works out what is said of one.
func (g *gathered) trainee(name string, mark Mark) Trainee {
	t := Trainee{Name: name, Limits: g.limits.list(), Missing: g.missing, Agreement: g.own.agreement()}
	var placed, unknown []Crimp
	t.Order, placed, unknown = ordered(g.crimps.all)
	t.Crimps = append(append([]Crimp{}, placed...), unknown...)
	t.ByDate = t.Order == ByDay && len(unknown) == 0
	for _, c := range unknown {
		t.PlaceUnknown = append(t.PlaceUnknown, c.Name)
	}
	for _, c := range t.Crimps {
		t.Counts.take(c.Result)
	}
	t.Yield, t.Score = yieldOf(t.Counts), pointsOf(t.Crimps)
	t.Row = rowOf(placed, mark, unknown...)
	switch {
	case name == "":
		t.Row = Row{Standing: NoMark}
		t.PlaceUnknown = nil // nobody counts a row of them
	case t.Row.Standing == Reached && missingCrimps(t.Missing) > 0:
		t.Row.Standing = Open
	}
	t.Wires = Wires{Wires: append([]Crimp{}, g.wires.all...)}
	for _, w := range t.Wires.Wires {
		t.Wires.Counts.take(w.Result)
	}
	t.Findings = g.crimps.findings(crimps, t.Wires.allGood())
	t.Wires.Findings = g.wires.findings(wires, false)
	return t
}

// allGood tells that there are stripped wires, and that all of them conform.
func (w Wires) allGood() bool { return w.Conforming > 0 && w.Conforming == len(w.Wires) }

func pointsOf(crimps []Crimp) Points {
	var p Points
	sum := 0.0
	for _, c := range crimps {
		if !c.HasScore() {
			continue
		}
		if p.Of == 0 {
			p.Least, p.Most = c.Score, c.Score
		}
		p.Of++
		sum += c.Score
		p.Least, p.Most = min(p.Least, c.Score), max(p.Most, c.Score)
	}
	if p.Of > 0 {
		p.Mean = sum / float64(p.Of)
	}
	return p
}

// HasScore tells whether the crimp was measured and judged, in doubt or not: the mean score counts what the yield counts.
func (c Crimp) HasScore() bool {
	switch c.Result {
	case record.Conforms, record.DoesNotConform, record.NotProven:
		return true
	}
	return false
}
