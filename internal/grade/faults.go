package grade

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/advice"
	"crimprule/vision/record"
)

// Findings are what is said of a trainee's crimps, or of the stripped wires.
type Findings struct {
	Well     []Good    `json:"done_well"`
	Faults   []Fault   `json:"faults"`              // what does not conform, and only that
	Unshown  []Unshown `json:"not_shown"`           // what the pictures left open
	Photos   []Photos  `json:"photographs"`         // pictures that came to nothing
	Cause    *Cause    `json:"most_frequent_cause"` // nil where nothing failed
	Practise *Practice `json:"practise"`
}

// Fault is what went wrong in some crimps: features that mean the same for the crimp stand together.
type Fault struct {
	Names  []string `json:"features"`
	Failed int      `json:"failed"` // crimps in which it is proven
	Judged int      `json:"judged"` // crimps in which one of its features has a value
	Means  string   `json:"means"`
	Causes []Step   `json:"causes,omitempty"`
	noun   noun
}

// Step is a likely cause, and what belongs to it.
type Step struct {
	Cause    string          `json:"cause"`
	Exercise advice.Exercise `json:"exercise"`
}

// Helps names the exercise against the cause, or says what else helps.
func (s Step) Helps() string {
	if s.Exercise.Trainer {
		return s.Exercise.Name
	}
	return "practise: " + s.Exercise.Name
}

// Title names the features.
func (f Fault) Title() string { return strings.Join(f.Names, "; ") }

// Words says in how many of the trainee's crimps it went wrong.
func (f Fault) Words() string {
	return "Fails in " + share(f.Failed, f.Judged, f.noun) + " in which it was judged."
}

// rests tells whether a crimp with these faults is one that the named cause could explain.
func (f Findings) rests(faults []string) bool {
	if f.Cause == nil {
		return false
	}
	for _, fault := range f.Faults {
		if slices.ContainsFunc(fault.Causes, func(s Step) bool { return s.Cause == f.Cause.Text }) &&
			slices.ContainsFunc(fault.Names, func(name string) bool { return slices.Contains(faults, name) }) {
			return true
		}
	}
	return false
}

// Cause is the cause that could explain the most crimps that do not conform. It is what such faults usually come from, not
// what was seen.
type Cause struct {
	Text   string `json:"text"`
	Crimps int    `json:"crimps"`
	Of     int    `json:"of"`
	// Others explain as much as Text does, which only stands first.
	Others []string `json:"others_that_explain_as_much,omitempty"`
	// WiresGood says that the cause is about stripping though all stripped wires conform.
	WiresGood bool `json:"stripped_wires_conform,omitempty"`
	noun      noun
}

// Words is the cause with how much it could explain, and how many others could as well.
func (c Cause) Words() string {
	text := c.Text
	if n := len(c.Others); n > 0 {
		text += ", or " + countOf(n, "other that explains", "others that explain") + " as much"
	}
	return text + c.explains()
}

// AllWords names all that explain as much.
func (c Cause) AllWords() string {
	return strings.Join(append([]string{c.Text}, c.Others...), "; or as well: ") + c.explains()
}

func (c Cause) explains() string {
	verb := "do not conform"
	if c.Of == 1 {
		verb = "does not conform"
	}
	each := ""
	if len(c.Others) > 0 {
		each = "each "
	}
	text := fmt.Sprintf(" (%scould explain %s that %s", each, share(c.Crimps, c.Of, c.noun), verb)
	if c.WiresGood {
		text += "; but all stripped wires conform, which speaks against it"
	}
	return text + ")"
}

// Practice is what to practise, and why.
type Practice struct {
	advice.Exercise
	Why string `json:"why"`
}

// noun is what is counted.
type noun struct{ one, many string }

var crimps, wires = noun{"crimp", "crimps"}, noun{"wire", "wires"}

func (n noun) count(k int) string { return countOf(k, n.one, n.many) }

// share is "2 of the 3 crimps", in the words that suit the numbers.
func share(k, of int, n noun) string {
	if n == (noun{}) {
		n = crimps
	}
	switch {
	case of == 1:
		return "the one " + n.one
	case k == of:
		return fmt.Sprintf("all %d %s", of, n.many)
	}
	return fmt.Sprintf("%d of the %d %s", k, of, n.many)
}

// fault is a Fault as it is gathered.
type fault struct {
	means    string
	causes   []string
	features []*feature
	failed   int
}

// fault finds the fault by what it means for the crimp.
func (s *features) fault(words *record.Advice, f *feature) *fault {
	for _, known := range s.faults {
		if known.means == words.Means {
			if !slices.Contains(known.features, f) {
				known.features = append(known.features, f)
			}
			return known
		}
	}
	kind := &fault{means: words.Means, causes: words.Causes, features: []*feature{f}}
	s.faults = append(s.faults, kind)
	return kind
}

// tally counts in how many crimps a cause could be at work; rank adds up how far back it stands among the causes.
type tally struct {
	crimps int
	order  []string
	count  map[string]int
	rank   map[string]int
}

// take counts the causes of one crimp, each once: a list for each of its faults, in which the likeliest stands first.
func (t *tally) take(faults [][]string) {
	if len(faults) == 0 {
		return
	}
	if t.count == nil {
		t.count, t.rank = map[string]int{}, map[string]int{}
	}
	t.crimps++
	least := map[string]int{} // how far in front each stands in any of the lists
	for _, causes := range faults {
		for i, cause := range causes {
			place, counted := least[cause]
			if !counted {
				if t.count[cause] == 0 {
					t.order = append(t.order, cause)
				}
				t.count[cause]++
			}
			if !counted || i < place {
				least[cause] = i
			}
		}
	}
	for cause, place := range least {
		t.rank[cause] += place
	}
}

// mostFaults is how many faults are told: more help nobody.
const mostFaults = 5

// list lists what went wrong, the most frequent first.
func (s *features) list(n noun) []Fault {
	faults := []Fault{}
	for _, f := range s.faults {
		one := Fault{Failed: f.failed, Means: f.means, noun: n}
		in := map[int]bool{}
		for _, part := range f.features {
			if name := part.name(); !slices.Contains(one.Names, name) {
				one.Names = append(one.Names, name)
			}
			for crimp := range part.judged {
				in[crimp] = true
			}
		}
		one.Judged = len(in)
		for _, cause := range f.causes {
			one.Causes = append(one.Causes, Step{cause, advice.Against(cause)})
		}
		faults = append(faults, one)
	}
	slices.SortStableFunc(faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(b.Failed, a.Failed), strings.Compare(a.Means, b.Means))
	})
	return faults[:min(len(faults), mostFaults)]
}

// cause is the most frequent one; nil where nothing failed. wiresGood says that all stripped wires conform: then a cause that
// is about stripping does not stand before another one that explains as much.
func (s *features) cause(n noun, wiresGood bool) *Cause {
	t := s.causes
	if t.crimps == 0 {
		return nil
	}
	most := 0
	for _, count := range t.count {
		most = max(most, count)
	}
	equal := slices.DeleteFunc(slices.Clone(t.order), func(cause string) bool { return t.count[cause] < most })
	unlikely := func(cause string) int {
		if wiresGood && advice.Against(cause) == advice.Stripping() {
			return 1
		}
		return 0
	}
	// Of causes that could explain as many, the one that is usually named first; of equal ones that of the first feature.
	slices.SortStableFunc(equal, func(a, b string) int {
		return cmp.Or(cmp.Compare(unlikely(a), unlikely(b)), cmp.Compare(t.rank[a], t.rank[b]))
	})
	return &Cause{Text: equal[0], Crimps: most, Of: t.crimps, Others: equal[1:], WiresGood: unlikely(equal[0]) > 0, noun: n}
}

// findings works out what is said.
func (p *pile) findings(n noun, wiresGood bool) Findings {
	f := Findings{Well: p.features.well(n), Faults: p.features.list(n), Unshown: p.features.unshown(n), Photos: p.photos.list(), Cause: p.features.cause(n, wiresGood)}
	switch taken := p.photos.badly(); {
	case f.Cause != nil:
		f.Practise = &Practice{advice.Against(f.Cause.Text), "it is the step at the bench that the named cause points to"}
		if f.Practise.Trainer {
			f.Practise.Why = "the named cause is no matter of practice"
		}
		if others := len(f.Cause.Others); others > 0 {
			f.Practise.Why += fmt.Sprintf(", the first one of %d that explain as much", others+1)
		}
	case taken > 0:
		f.Practise = &Practice{advice.Photographing(), countOf(taken, "picture", "pictures") + " could not be measured"}
	case slices.ContainsFunc(f.Unshown, func(u Unshown) bool { return !u.Never }):
		f.Practise = &Practice{advice.Photographing(), "the pictures leave open what stands under 'not shown by these pictures'"}
	}
	return f
}

// NoneWell says why nothing is told that was done well.
func (t Trainee) NoneWell() string {
	if t.Judged() == 0 {
		return "Nothing was measured and judged, so that there is nothing to tell."
	}
	return "Nothing stands out yet: there is no feature that conforms wherever it was judged and has no fault beside it."
}

// NoFault says why no fault is told.
func (t Trainee) NoFault() string {
	switch {
	case t.Judged() == 0:
		return "Nothing was measured and judged, so that there is nothing to tell."
	case t.Open() > 0:
		return "Nothing failed in what could be measured and judged."
	}
	return "Nothing failed."
}
