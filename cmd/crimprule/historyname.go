package main

import (
	"context"
	"fmt"
	"strings"

	"crimprule/internal/history"
	"crimprule/internal/site"
)

// one finds the crimp that is meant; date is the day on which it was made, empty for any. An unknown one is named with those
// that are near; of several, all are named with what tells them apart.
func one(ctx context.Context, h *history.History, name, str, trainee, date string) (history.Standing, error) {
	all, err := named(ctx, h, name, str, trainee)
	if err != nil {
		return history.Standing{}, err
	}
	return madeOn(name, date, all)
}

// madeOn finds the one crimp that was made on a day, empty for any.
func madeOn(name, date string, all []history.Standing) (history.Standing, error) {
	var found []history.Standing
	for _, s := range all {
		if date == "" || s.Crimp.Label.Date == date {
			found = append(found, s)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) == 0:
		return history.Standing{}, fmt.Errorf("there is no crimp %q that was made on %s; there is %s", name, date, toldApart(all))
	}
	return history.Standing{}, several(name, found)
}

func several(name string, found []history.Standing) error {
	return fmt.Errorf("there are %d crimps %q: %s; say which with %s", len(found), name, toldApart(found), options(found))
}

// latestNamed finds the crimp that a value is of, for which string, trainee and name count: of those of several days that of
// made, where it is said, else the last one that was made on the day of measuring or before, where any was.
func latestNamed(ctx context.Context, h *history.History, name, str, trainee, made, when string) (history.Standing, error) {
	found, err := named(ctx, h, name, str, trainee)
	if err != nil {
		return history.Standing{}, err
	}
	if differ(found, site.Label.Name) {
		return history.Standing{}, several(name, found)
	}
	if made != "" && (len(found) > 1 || found[0].Crimp.Label.Date != "") { // else it may be of any day
		return madeOn(name, made, found)
	}
	best := found[0]
	for _, s := range found[1:] {
		if when == "" || s.Crimp.Label.Date <= when {
			best = s // they come by day
		}
	}
	return best, nil
}

// named finds the crimps of a name, one at least.
func named(ctx context.Context, h *history.History, name, str, trainee string) ([]history.Standing, error) {
	found, err := h.Named(ctx, name, str, trainee)
	if err != nil || len(found) > 0 {
		return found, err
	}
	near, err := nearCrimps(ctx, h, name, str, trainee)
	if err != nil {
		return nil, err
	}
	return nil, unknownCrimp{history.Standing{Crimp: site.Crimp{Label: site.Label{String: str, Trainee: trainee, Crimp: name}}}.Crimp.Name(), near}
}

// distinctions are what tells crimps of one name apart, and the option for it.
var distinctions = []struct {
	name, option string
	of           func(site.Label) string
}{
	{"string", "--string", func(l site.Label) string { return l.String }},
	{"trainee", "--trainee", func(l site.Label) string { return l.Trainee }},
	{"made on", "--date", func(l site.Label) string { return l.Date }},
}

func differ(all []history.Standing, of func(site.Label) string) bool {
	for _, s := range all {
		if of(s.Crimp.Label) != of(all[0].Crimp.Label) {
			return true
		}
	}
	return false
}

// toldApart lists crimps with their strings, trainees and days, as far as these are known.
func toldApart(all []history.Standing) string {
	const most = 10
	var texts []string
	for i, s := range all {
		if i == most {
			texts = append(texts, fmt.Sprintf("%d more", len(all)-most))
			break
		}
		text := fmt.Sprintf("%q", s.Crimp.Name())
		var parts []string
		for _, d := range distinctions {
			if value := d.of(s.Crimp.Label); value != "" {
				parts = append(parts, fmt.Sprintf("%s %q", d.name, value))
			}
		}
		if len(parts) > 0 {
			text += " (" + strings.Join(parts, ", ") + ")"
		}
		texts = append(texts, text)
	}
	return strings.Join(texts, ", ")
}

// options names those that tell the crimps apart.
func options(all []history.Standing) string {
	var names []string
	for _, d := range distinctions {
		if differ(all, d.of) {
			names = append(names, d.option)
		}
	}
	if names == nil {
		return "its whole name"
	}
	return strings.Join(names, " or ")
}
