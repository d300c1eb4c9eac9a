// Package advice says in words of the trade what a failed or doubtful feature of a crimp means, what at the bench is
// likely to have caused it, and what to do. Text only. Means, causes and steps are common practice of crimping without
// a source, in our own words; the specification of the contact's maker goes before all of them.
package advice

import (
	"fmt"
	"slices"
	"strings"

	"crimprule/vision/record"
)

// text is what is said of one measurand in one direction.
type text struct {
	means  string
	causes []string
	check  string // what to look after before the next crimp
}

// entry is what is said of one measurand: its name for people, and both directions in which it can fail.
type entry struct {
	name         string
	small, large text
}

// anew is what is done with every crimp that does not conform. A second crimp on the same sleeve hides the fault and
// breaks strands; a snipped strand takes metal away.
const anew = "Cut the contact off and make the crimp anew with a new contact and freshly stripped wire; " +
	"never crimp the same contact a second time. Before that: "

// again is what is done where a section does not conform: the crimp itself is gone already, its sisters are not.
const again = "The section speaks for one crimp, which is spent. Stop crimping with this set-up, hold back what was made with it " +
	"since the last good section, and release it only by a new section of a new crimp; never crimp a contact a second time. Before that: "

// strip is what is done with every stripped end that does not conform. It still costs a piece of wire only.
const strip = "Cut the stripped end off and strip the wire anew; do not crimp this one, and do not put it right by trimming strands. " +
	"Before that: "

// Name is what people call a measurand in a view, or what was measured elsewhere; for a key that is not known here, the
// key itself.
func Name(view record.View, key record.Key) string {
	if e, ok := lookUp(view, key); ok {
		return e.name
	}
	return string(key)
}

// lookUp finds the words of a measurand: those of the view itself where it has some, else the common ones.
func lookUp(view record.View, key record.Key) (entry, bool) {
	tables := []map[record.Key]entry{entries, stripEntries, sectionEntries, elsewhereEntries}
	if view == record.Side {
		tables = append([]map[record.Key]entry{sideEntries}, tables...)
	}
	for _, table := range tables {
		if e, ok := table[key]; ok {
			return e, true
		}
	}
	return entry{}, false
}

// For returns the advice for a feature that was judged in a picture of this view; nil where the feature conforms. What
// to do differs: a crimp in a photo can still be cut off, one in a section is cut up already, and a stripped end is no
// crimp yet.
func For(view record.View, f record.Feature) *record.Advice {
	do := steps(view)
	switch f.Result {
	case record.DoesNotConform:
		t := direction(view, f)
		return &record.Advice{Means: t.means, Causes: t.causes, Do: do.failed + t.check}
	case record.NotProven:
		t := direction(view, f)
		if f.Reason != "" { // no value at all would be proven: another picture of the same kind does not help
			return &record.Advice{
				Means:  fmt.Sprintf("The %s cannot be proven good by such a picture, whatever it is like: %s. If it is bad: %s", Name(view, f.Key), f.Reason, t.means),
				Causes: t.causes,
				Do:     "What would show it: " + ToShow(view, f.Key) + ". " + do.unproven[strings.Index(do.unproven, "As long as"):],
			}
		}
		return &record.Advice{
			Means: fmt.Sprintf("The %s lies so near its limit that this picture cannot prove it good or bad. If it is bad: %s",
				Name(view, f.Key), t.means),
			Causes: t.causes,
			Do:     do.unproven,
		}
	case record.NotMeasured:
		return &record.Advice{
			Means: fmt.Sprintf("Nothing is known of the %s, neither good nor bad.", Name(view, f.Key)),
			Do:    Unmeasured(view),
		}
	}
	return nil
}

// step is what to do with the crimp itself, whatever the feature: failed goes before what to look after.
type step struct{ failed, unproven string }

func steps(view record.View) step {
	switch view {
	case record.Section:
		return step{again, "Polish it once more and take a sharper picture at a higher magnification, with a checked scale, or cut another " +
			"crimp of the same set-up. As long as it is not proven, treat the set-up as one that does not conform; never crimp a contact a second time."}
	case record.Strip:
		return step{strip, "Take a sharper, closer picture from straight above, or measure it by other means. As long as it is not proven, " +
			"treat the end as one that does not conform: cut it off and strip the wire anew."}
	}
	return step{anew, "Take a sharper, closer picture from straight above, or measure it by other means. As long as it is not proven, " +
		"treat the crimp as one that does not conform: cut it off and make it anew, never crimp it a second time."}
}

// Unmeasured says what to do where a feature could not be measured in a picture of this view.
func Unmeasured(view record.View) string {
	what := "pass the crimp"
	switch view {
	case record.Section:
		what = "release the set-up"
	case record.Strip:
		what = "crimp the wire"
	}
	return "Put right what the reason says and take the picture again, or measure it by other means; do not " + what +
		" on this picture alone."
}

// direction picks the text for the side on which the value lies: beyond a limit, else nearer to one.
func direction(view record.View, f record.Feature) text {
	e, ok := lookUp(view, f.Key)
	if !ok {
		e = entry{small: plain("too small"), large: plain("too large")}
	}
	switch {
	case bothSides(f):
		return text{e.small.means + " Or, as likely: " + e.large.means, slices.Concat(e.small.causes, e.large.causes), e.small.check}
	case tooSmall(f):
		return e.small
	}
	return e.large
}

// bothSides tells whether a value that lies within its limits may as well lie below as above them.
func bothSides(f record.Feature) bool {
	return f.Result == record.NotProven && f.Value != nil && f.U != nil && f.Min != nil && f.Max != nil &&
		*f.Value-*f.U < *f.Min && *f.Value+*f.U > *f.Max
}

func tooSmall(f record.Feature) bool {
	switch {
	case f.Value == nil || f.Min == nil:
		return false
	case f.Max == nil:
		return true
	}
	return *f.Value-*f.Min < *f.Max-*f.Value
}

// Causes that may be at work under any measurand.
const (
	wrongChoice = "the wrong contact, wire, die or tool setting"
	wrongLimit  = "a limit in the tolerances file that does not go with this contact"
	exchanged   = "min and max exchanged in the tolerances file"
)

// plain serves measurands that have no text of their own yet.
func plain(what string) text {
	return text{
		means:  "The feature is " + what + " for its limits.",
		causes: []string{wrongChoice, wrongLimit},
		check:  "compare contact, wire, die and tool setting with the contact's specification.",
	}
}

// cannotFail stands where a value on that side is nothing bad, so that only a strange limit can ask for it.
func cannotFail(what string) text {
	return text{
		means:  what + " A limit that finds fault with it is probably a slip in the tolerances file.",
		causes: []string{exchanged},
		check:  "look at this limit in the tolerances file; if it is wrong, put it right and judge again instead.",
	}
}

const (
	looksOnly = "This program looks at pictures. It does not qualify a crimp, a tool or a person: only the contact maker's specification does, " +
		"with the tool, die, wire and stripping length that it names. No picture replaces pull-out and resistance tests."
	notYetMade = "A stripped end is no crimp yet: what it is like says nothing of the crimp that will be made of it."
	oneSection = "A section destroys its crimp and speaks for that crimp alone, at the one place where it was cut."
	chemicals  = "Cut, grind, polish and etch sections only with eye protection and gloves, good ventilation and the safety sheets of resin and " +
		"etchant at hand; dust, resin and etchants harm eyes, skin and lungs."
)

// Cautions are what must stand wherever results are shown to people.
func Cautions() []string {
	return []string{
		looksOnly,
		"'Conforms' means that the measured features lie within the limits that you set, at the probability that you set. " +
			"What was not measured was not judged.",
		"The limits that come with the program are examples, neither a standard's nor a maker's.",
		notYetMade,
		oneSection,
		"A wrong scale makes every length wrong: check the reference against a second one before you trust a series.",
		"Never photograph, open, pull or re-make a connection under load or voltage. Switch off, lock out, prove it dead. " +
			"Solar modules give voltage whenever there is light; never part DC connectors under load.",
		"Follow the electrical code of the place (for instance IEC 60364-7-712, IEC 62548 or NFPA 70), and leave work that is " +
			"reserved for licensed persons to them.",
		chemicals,
		"Do not rely on this program alone where a life hangs on the crimp: vehicles, aircraft, medical devices, fire protection.",
	}
}

// CautionsFor are those of the Cautions that bear on pictures of these views.
func CautionsFor(views ...record.View) []string {
	return slices.DeleteFunc(Cautions(), func(caution string) bool {
		switch caution {
		case notYetMade:
			return !slices.Contains(views, record.Strip)
		case oneSection, chemicals:
			return !slices.Contains(views, record.Section)
		}
		return false
	})
}

// Below are the few cautions that go below every report of pictures of these views, so that nobody reads one without
// them.
func Below(views ...record.View) []string {
	below := []string{looksOnly}
	if slices.Contains(views, record.Strip) {
		below = append(below, notYetMade)
	}
	if slices.Contains(views, record.Section) {
		below = append(below, oneSection)
	}
	return below
}
