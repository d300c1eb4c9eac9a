package evidence

import (
	"fmt"
	"slices"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// entered counts the crimps that have a value measured elsewhere which counts, by its key; stripped wires are none, and neither is
// what was made anew since.
type entered struct {
	crimps int
	with   map[record.Key]int
}

func (e *entered) take(c site.Crimp, r row) {
	if r.Replaced != "" || r.Kind == strippedEnd {
		return
	}
	e.crimps++
	if e.with == nil {
		e.with = map[record.Key]int{}
	}
	var keys []record.Key
	for _, v := range c.Elsewhere {
		if v.NotJudged() == "" {
			keys = append(keys, v.Key)
		}
	}
	for _, key := range unique(keys) {
		e.with[key]++
	}
}

// untested says once for the whole scan, since such tests are made on samples, which limits of values measured elsewhere are
// set and for how many crimps no value was entered; empty where none is missing.
func (b *book) untested() string {
	var keys []record.Key
	for _, t := range b.info.Tolerances {
		for _, l := range t.Limits.Elsewhere {
			if !slices.Contains(keys, l.Key) {
				keys = append(keys, l.Key)
			}
		}
	}
	text := ""
	for _, key := range keys {
		if missing := b.entered.crimps - b.entered.with[key]; missing > 0 {
			text += []string{"", ", "}[min(len(text), 1)] + fmt.Sprintf("%s (no value for %d of %s)", wording.Name(elsewhere, key), missing, plural(b.entered.crimps, "crimp", "crimps"))
		}
	}
	if text == "" {
		return ""
	}
	return "Limits are set for values that no picture yields and that were not entered for all: " + text + "; crimprule history add enters them."
}
