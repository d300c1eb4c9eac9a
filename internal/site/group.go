package site

import (
	"cmp"
	"slices"

	"crimprule/vision/record"
)

// Entry is what grouping needs of a picture: the light part of it, so that a scan of ten thousand pictures can be
// grouped without its records in memory.
type Entry struct {
	Position int
	Label    Label  // from the manifest, or from the file's name
	Origin   Origin // FromManifest, FromName, Assumed or Alone
	Tag      string // what the card's tag in the picture says, empty where none was read or it says what Label says

	Settled bool   // what came of the picture is known
	Failed  bool   // it has no record
	SHA256  string // of its bytes, where they could be read

	Said string // by Group: what the file's name says, where the tag says something else
}

// Group puts together the pictures of one crimp, crimps in the order of their first picture, and pictures in theirs.
// What the manifest says of a picture counts most, then the tag on the card, then the file's name; a picture of which none
// of them tells anything is a crimp of its own. DoubtTag tells where they contradict each other, as with a card that was
// left lying. Each entry comes back with the Label and the Origin that counted.
// Two pictures are of one crimp when string, trainee and crimp are the same, and the dates, where both have one: a crimp
// of another day was made anew, and trainees number theirs anew each day. A picture without a date is, where there are
// crimps of several days, taken for one of the last: so it counts, whatever it shows.
func Group(entries []Entry) [][]Entry {
	entries = slices.Clone(entries)
	dates := map[name]*Crimp{}
	for i := range entries {
		e := &entries[i]
		if e.Tag != "" && (e.Label.Crimp == "" || e.Origin != FromManifest) {
			if e.Origin == FromName {
				e.Said = e.Label.Name()
			}
			e.Label.Crimp, e.Origin = e.Tag, FromTag
		}
		n := nameOf(*e)
		if dates[n] == nil {
			dates[n] = &Crimp{}
		}
		if e.Label.Date != "" {
			dates[n].AddDays(e.Label.Date)
			dates[n].Label.Date = e.Label.Date
		}
	}
	var groups [][]Entry
	var days []string      // of each group
	at := map[name][]int{} // the groups of one name, made on different days
	for _, e := range entries {
		n, day := nameOf(e), e.Label.Date
		if several := dates[n].Days; day == "" && len(several) > 0 {
			day = several[len(several)-1]
		}
		i := -1
		if e.Label.Crimp != "" {
			i = slices.IndexFunc(at[n], func(i int) bool { return day == "" || days[i] == "" || days[i] == day })
		}
		if i < 0 {
			i = len(groups)
			groups, days = append(groups, nil), append(days, "")
			at[n] = append(at[n], i)
		} else {
			i = at[n][i]
		}
		groups[i] = append(groups[i], e)
		days[i] = cmp.Or(days[i], day)
	}
	return groups
}

// name is what pictures of one crimp have in common.
type name struct {
	str, trainee, crimp string
	tag                 bool
}

// nameOf is that of a picture of which it is decided whether its tag counts.
func nameOf(e Entry) name {
	return name{e.Label.String, e.Label.Trainee, e.Label.Crimp, e.Origin == FromTag}
}

// Merge gives what is known of a crimp from all its pictures; conflicts are the parts in which they differ, the first
// one having counted.
func Merge(group []Entry) (label Label, conflicts []string) {
	differ := func(name string, to *string, from string) {
		switch {
		case *to == "":
			*to = from
		case from != "" && from != *to:
			conflicts = append(conflicts, name+" is both "+*to+" and "+from)
		}
	}
	for _, e := range group {
		own, from := string(label.Own), e.Label
		differ("string", &label.String, from.String)
		differ("crimp", &label.Crimp, from.Crimp)
		differ("crew", &label.Crew, from.Crew)
		differ("tool", &label.Tool, from.Tool)
		differ("trainee", &label.Trainee, from.Trainee)
		differ("date", &label.Date, from.Date)
		differ("own_verdict", &own, string(from.Own))
		label.Own = record.Result(own)
		if label.Note == "" {
			label.Note = from.Note
		}
	}
	return label, conflicts
}
