package site

import (
	"fmt"
	"slices"
)

// Called is the crimp's name and, where crimps of other days have the same one, the day on which it was made.
func (c *Crimp) Called() string {
	if len(c.Days) < 2 || c.Label.Date == "" {
		return c.Name()
	}
	return c.Name() + " of " + c.Label.Date
}

// next is the first day after the crimp's own on which one of its name was made; empty where there is none.
func (c *Crimp) next() string {
	for _, day := range c.Days {
		if c.Label.Date != "" && day > c.Label.Date {
			return day
		}
	}
	return ""
}

// ReplacedBy is the day on which the crimp was made that took this one's place: string and crimp name a place on the site,
// and who makes a crimp anew cuts the old one off. It is empty where the crimp stands. Trainees number their crimps anew
// each day, so that theirs replace none.
func (c *Crimp) ReplacedBy() string {
	if c.Label.Trainee != "" {
		return ""
	}
	return c.next()
}

// Replaces tells whether the crimp took the place of an earlier one.
func (c *Crimp) Replaces() bool {
	return c.Label.Trainee == "" && len(c.Days) > 0 && c.Label.Date > c.Days[0]
}

// AddDays notes days on which crimps of this name were made; the crimp's own is one of them.
func (c *Crimp) AddDays(days ...string) {
	all := append(slices.Clone(c.Days), days...)
	all = append(all, c.Label.Date)
	slices.Sort(all)
	all = slices.DeleteFunc(slices.Compact(all), func(day string) bool { return day == "" })
	if c.Days = all; len(all) < 2 {
		c.Days = nil
	}
}

// WarnUndated notes that a picture of a name that crimps of several days have does not say of which one it is. Entry is the
// picture as Group gave it.
func (c *Crimp) WarnUndated(e Entry, file string) {
	if len(c.Days) > 1 && e.Label.Date == "" {
		c.Warn("it is not known when the crimp in %s was made, and crimps of several days have its name: it is taken for that of %s; give its date in the manifest (column date)",
			Quoted(file), c.Label.Date)
	}
}

// Days gives for each of the groups of a scan the days on which crimps of its name were made; none where there is one day.
func Days(groups [][]Entry) [][]string {
	days := map[name][]string{}
	for _, group := range groups {
		label, _ := Merge(group)
		days[nameOf(group[0])] = append(days[nameOf(group[0])], label.Date)
	}
	all := make([][]string, len(groups))
	for i, group := range groups {
		var c Crimp
		c.AddDays(days[nameOf(group[0])]...)
		if group[0].Label.Crimp != "" {
			all[i] = c.Days
		}
	}
	return all
}

// ReplacedText says that the crimp of a day took this one's place.
func ReplacedText(day string) string { return fmt.Sprintf("replaced by the crimp of %s", day) }
