package evidence

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Missing is a crimp that an earlier scan of the same source judged and did not find to conform, and that is not among
// the present pictures: whoever takes away the picture of a bad crimp does not mend it.
type Missing struct {
	Name   string
	Result record.Result // then: does not conform, not proven, not measured
	When   time.Time     // of that scan
	// Crimp is what the history knows of it: label, days and pictures, without values. Where another one took its place, it is
	// not missed.
	Crimp site.Crimp
}

// missed is a missing crimp as it is printed.
type missed struct {
	Name  string
	Badge badge
	When  string
}

// missingPart is the section of the page.
type missingPart struct {
	Head, Meaning string
	List          []missed
	ReplacedHead  string
	Replaced      []string // sentences
}

// missing lists the missing crimps: the worst first, then by name.
func (b *book) missing() []missed {
	all := b.gone()
	slices.SortStableFunc(all, func(x, y Missing) int {
		return cmp.Or(slices.Index(order, x.Result)-slices.Index(order, y.Result), ByName(x.Name, y.Name), x.When.Compare(y.When))
	})
	list := make([]missed, len(all))
	for i, m := range all {
		list[i] = missed{wording.Clean(m.Name), badgeOf(m.Result), moment(m.When)}
	}
	return list
}

// gone are the missing crimps that nobody made anew.
func (b *book) gone() []Missing {
	return slices.DeleteFunc(slices.Clone(b.info.Missing), func(m Missing) bool { return m.Crimp.ReplacedBy() != "" })
}

// replacedHead stands over those that somebody did.
const replacedHead = "Crimps of earlier scans that were made anew"

// replacedTexts says of which crimps without a picture a new one took the place, by name.
func (b *book) replacedTexts() []string {
	var all []string
	for _, m := range b.info.Missing {
		if m.Crimp.ReplacedBy() != "" {
			all = append(all, wording.Clean(m.ReplacedText()))
		}
	}
	slices.SortFunc(all, ByName)
	return all
}

// ReplacedText says in a sentence what came of a crimp that was made anew.
func (m Missing) ReplacedText() string {
	return fmt.Sprintf("%s %s and was %s", m.Name, Was(m.Result), site.ReplacedText(m.Crimp.ReplacedBy()))
}

// Was says what an earlier scan found of one crimp.
func Was(result record.Result) string { return was[result][0] }

// was says of one crimp, and of several, what an earlier scan found.
var was = map[record.Result][2]string{
	record.DoesNotConform: {"did not conform", "did not conform"}, record.NotProven: {"was not proven", "were not proven"},
	record.NotMeasured: {"was not measured", "were not measured"}, record.Conforms: {"conformed", "conformed"}, "": {"was not judged", "were not judged"},
}

// missingHead and missingMeaning stand over the list of missing crimps.
const (
	missingHead    = "Crimps that are not among these pictures"
	missingMeaning = "An earlier scan of the same source judged them and they did not conform, or were not proven or not measured; their pictures are gone " +
		"since. Nothing shows that they were made anew: photograph them again, or find out what became of them."
)

// missingTexts counts the missing crimps by what an earlier scan found, with its day or days.
func (b *book) missingTexts() []string {
	var all []string
	for _, result := range order {
		var days []string
		for _, m := range b.gone() {
			if m.Result == result {
				days = append(days, m.When.Format(time.DateOnly))
			}
		}
		n := len(days)
		if n == 0 {
			continue
		}
		slices.Sort(days)
		when := "on " + days[0]
		if last := days[n-1]; last != days[0] {
			when = fmt.Sprintf("between %s and %s", days[0], last)
		}
		was := was[result]
		if n == 1 {
			all = append(all, fmt.Sprintf("1 crimp that %s %s is not among these pictures", was[0], when))
		} else {
			all = append(all, fmt.Sprintf("%d crimps that %s %s are not among these pictures", n, was[1], when))
		}
	}
	return all
}
