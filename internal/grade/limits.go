package grade

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Limits is a tolerances file that pictures were judged by.
type Limits struct {
	Name   string        `json:"name"` // what it calls itself
	File   string        `json:"file"`
	SHA256 string        `json:"sha256"`
	Path   string        `json:"path,omitempty"` // where the evidence has it; empty where it has not
	Views  []record.View `json:"views"`          // of the pictures that it judged
}

// shortHash is the beginning of the hash, enough to tell files apart.
func (l Limits) shortHash() string { return l.SHA256[:min(12, len(l.SHA256))] }

// Called is the name with the beginning of the hash, fit to be printed.
func (l Limits) Called() string {
	return fmt.Sprintf("%q (SHA-256 %s...)", cmp.Or(wording.Clean(l.Name), wording.Clean(l.File)), l.shortHash())
}

// Words is all that a reader needs to find the file again.
func (l Limits) Words() string {
	var views []string
	for _, v := range l.Views {
		views = append(views, wording.View(v))
	}
	return fmt.Sprintf("%q for the %s: file %s, SHA-256 %s...", cmp.Or(wording.Clean(l.Name), wording.Clean(l.File)), strings.Join(views, ", the "),
		wording.Clean(l.File), l.shortHash())
}

// limitsSet gathers the limits that judged, each once, with the views in which they did.
type limitsSet struct{ all []Limits }

func (s *limitsSet) add(all ...Limits) {
	for _, l := range all {
		i := slices.IndexFunc(s.all, func(known Limits) bool { return known.SHA256 == l.SHA256 })
		if i < 0 {
			i = len(s.all)
			s.all = append(s.all, l)
			s.all[i].Views = nil
		}
		for _, v := range l.Views {
			if !slices.Contains(s.all[i].Views, v) {
				s.all[i].Views = append(slices.Clip(s.all[i].Views), v)
			}
		}
	}
}

// list gives them in an order that does not hang on that of the pictures.
func (s *limitsSet) list() []Limits {
	all := append([]Limits{}, s.all...)
	for i := range all {
		all[i].Views = slices.Sorted(slices.Values(all[i].Views))
	}
	slices.SortFunc(all, func(a, b Limits) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.File, b.File), strings.Compare(a.SHA256, b.SHA256))
	})
	return all
}

// limitsOf lists what judged a crimp's pictures. files are those of the scan.
func limitsOf(c site.Crimp, files []evidence.Tolerances) []Limits {
	var set limitsSet
	for _, p := range c.Pictures {
		if !p.Usable() || p.Record.Verdict == nil || p.Tolerances == "" {
			continue
		}
		l := Limits{Name: p.Record.Verdict.Tolerances, SHA256: p.Tolerances, Views: []record.View{p.Record.View}}
		if i := slices.IndexFunc(files, func(t evidence.Tolerances) bool { return t.Hash == p.Tolerances }); i >= 0 {
			l.Name, l.File, l.Path = files[i].Name, files[i].File, files[i].Path()
		}
		set.add(l)
	}
	return set.all
}

// judgedBy is a trainee or a day with the limits that judged.
type judgedBy struct {
	name   string
	limits []Limits
}

// unlike says of each view of which not all were judged by the same limits who was judged by which. Who has no picture of a
// view is not compared in it.
func unlike(all []judgedBy) []string {
	var views []record.View
	for _, one := range all {
		for _, l := range one.limits {
			for _, v := range l.Views {
				if !slices.Contains(views, v) {
					views = append(views, v)
				}
			}
		}
	}
	slices.Sort(views)
	var texts []string
	for _, view := range views {
		var kinds, members []string // by the limits' names, and who was judged by them
		for _, one := range all {
			kind := inView(one.limits, view)
			if kind == "" {
				continue
			}
			i := slices.Index(kinds, kind)
			if i < 0 {
				kinds, members = append(kinds, kind), append(members, "")
				i = len(kinds) - 1
			}
			members[i] = strings.TrimPrefix(members[i]+", "+wording.Clean(one.name), ", ")
		}
		if len(kinds) < 2 {
			continue
		}
		for i := range kinds {
			kinds[i] = members[i] + " by " + kinds[i]
		}
		texts = append(texts, "in the "+wording.View(view)+" "+strings.Join(kinds, "; "))
	}
	return texts
}

// inView names the limits for a view.
func inView(all []Limits, view record.View) string {
	var names []string
	for _, l := range all {
		if slices.Contains(l.Views, view) {
			names = append(names, l.Called())
		}
	}
	return strings.Join(names, " and ")
}

func daySets(days []Day) []judgedBy {
	var all []judgedBy
	for _, d := range days {
		all = append(all, judgedBy{cmp.Or(d.Date, "(day unknown)"), d.Limits})
	}
	return all
}

// LimitsOfDays says which days were judged by different limits; empty where all were by the same.
func (t Trainee) LimitsOfDays() string {
	texts := unlike(daySets(t.Days))
	if len(texts) == 0 {
		return ""
	}
	return "But DIFFERENT LIMITS judged these days, so that they cannot be held against each other: " + strings.Join(texts, "; ") + "."
}

// unlikeLimits says loudly which trainees were judged by different limits; empty where all were by the same.
func (r Report) unlikeLimits() string {
	var all []judgedBy
	for _, t := range r.Trainees {
		all = append(all, judgedBy{t.Called(), t.Limits})
	}
	texts := unlike(all)
	if len(texts) == 0 {
		return ""
	}
	return "DIFFERENT LIMITS judged these trainees, so that their numbers cannot be held against each other: " + strings.Join(texts, "; ") + "."
}

func (r Report) allLimits() []Limits {
	var set limitsSet
	for _, t := range r.Trainees {
		set.add(t.Limits...)
	}
	return set.list()
}

// join puts sentences one after the other, leaving out empty ones.
func join(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}
