package evidence

import (
	"fmt"
	"strings"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// answer is what the pictures say to the question, in a sentence, and what else must be known with it. To whether something
// may be energised it is never yes: pictures can speak against switching on, not for it.
type answer struct {
	Head  string
	Clear bool // nothing speaks against it
	More  []string
}

const (
	notByPictures = "No picture replaces the tests that the code of the place asks for, and whether to switch on is the licensed person's decision."
	notPhotoed    = "What was not photographed is not known."
)

func (b *book) answer() answer {
	about := b.matter()
	a := answer{More: about.standing()}
	var parts []string
	part := func(n int, one, many string) {
		if n > 0 {
			parts = append(parts, plural(n, one, many))
		}
	}
	bad := map[kind]int{}
	judgedCrimps := 0
	for _, r := range b.rows {
		if r.Replaced != "" {
			continue // nobody can energise what was cut off
		}
		if r.Result == record.DoesNotConform {
			bad[r.Kind]++
		}
		if r.Kind == madeCrimp && r.Result != "" {
			judgedCrimps++
		}
	}
	for _, k := range []kind{madeCrimp, strippedEnd, cutSection, testPiece} {
		one, many := about.failing(k)
		part(bad[k], one, many)
	}
	part(b.tallies[record.NotMeasured].all()-b.putRight, "must be photographed again", "must be photographed again")
	part(b.putRight, "was not measured for want of its file or of a declaration", "were not measured for want of their files or of a declaration")
	part(b.tallies[record.NotProven].all(), "is not proven", "are not proven")
	part(b.tallies[""].all(), "was not judged, since there were no limits for it", "were not judged, since there were no limits for them")
	part(b.unread, "picture could not be read", "pictures could not be read")
	missing := b.missingTexts()
	switch {
	case len(b.rows) == 0:
		a.Head = also("These pictures do not answer it: there is none.", missing)
	case b.tallies[""].all() == len(b.rows)-b.replaced.all():
		a.Head = also("These pictures do not answer it: nothing was judged, since no limits were given.", missing)
	case len(parts)+len(missing) > 0:
		a.Head = pick(about == installation, "Not on these pictures: ", "Not all of them: ") + strings.Join(append(parts, missing...), ", ") + "."
	case judgedCrimps == 0 && about == installation:
		a.Head = "These pictures do not answer it: they show no finished crimp."
	case b.noted > 0:
		a.Head = "Not on these pictures alone: a person must look into what is noted on " + plural(b.noted, "page", "pages") + " of crimps first."
	case len(b.info.Notes) > 0:
		a.Head = "Not on these pictures alone: a person must look into " + plural(len(b.info.Notes), "note", "notes") + " on files and names first."
	case about != installation:
		a.Head = "What these pictures show conforms: " + b.tallies[record.Conforms].String() + "."
		a.Clear = true
	default:
		a.Head = "Nothing in these pictures speaks against it; the decision is the licensed person's, after the tests that the code of the place asks for."
		a.Clear = true
	}
	if text := b.restsOn(); about == laboratory && text != "" {
		a.More = append(a.More, text)
	}
	if text := b.untested(); text != "" {
		a.More = append(a.More, text)
	}
	if b.doubted > 0 {
		a.More = append(a.More, plural(b.doubted, "crimp is", "crimps are")+" in doubt: a person must settle what stands on "+
			pick(b.doubted == 1, "its page; until then it is", "their pages; until then they are")+" not proven to be good, whatever the pictures show.")
	}
	if b.warned > 0 {
		a.More = append(a.More, plural(b.warned, "crimp has a remark", "crimps have remarks")+" that a person must look into: see "+
			pick(b.warned == 1, "its page", "their pages")+".")
	}
	return a
}

// restsOn says what there is that an answer can rest on.
func (b *book) restsOn() string {
	t := b.total()
	text := "The answer rests on " + plural(t.Sections, "section", "sections")
	if t.Pieces > 0 {
		text += ", " + plural(t.Pieces, "crimp without a picture", "crimps without a picture")
	}
	text += " and on " + pick(b.elsewhere == 0, "no value that was measured elsewhere", plural(b.elsewhere, "value", "values")+" measured elsewhere")
	if n := b.unjudged; n > 0 {
		text += "; " + plural(n, "further value was", "further values were") + " measured elsewhere and not judged"
	}
	return text + "."
}

// also adds sentences.
func also(text string, more []string) string {
	for _, m := range more {
		text += " " + m + "."
	}
	return text
}

// plural writes a number with the noun that goes with it.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// badge is how a result is shown: words, and a shape that differs without colour.
type badge struct {
	Class string // also the name of the shape
	Words string
}

// replacedBadge stands for crimps that were made anew since, whatever their result.
var replacedBadge = badge{"replaced", "replaced by a crimp that was made anew"}

func badgeOf(result record.Result) badge {
	switch result {
	case record.Conforms, record.DoesNotConform, record.NotProven, record.NotMeasured:
		return badge{string(result), wording.Result(result)}
	case "":
		return badge{"not_judged", "not judged"}
	}
	return badge{"not_judged", wording.Clean(string(result))}
}
