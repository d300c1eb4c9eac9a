package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"crimprule/internal/history"
	"crimprule/internal/site"
)

// one finds the crimp that is meant; date is the day on which it was made, empty for any. An unknown one is named with those
// that are near; of several, all are named with what tells them apart.
func one(ctx context.Context, h *history.History, n crimpName, date string) (history.Standing, error) {
	all, err := named(ctx, h, n)
	if err != nil {
		return history.Standing{}, err
	}
	return madeOn(n.crimp, date, all)
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

// latestNamed finds the crimp that a value is of, for which string, trainee, name and place count: of those of several days that of
// made, where it is said, else the last one that was made on the day of measuring or before, where any was.
func latestNamed(ctx context.Context, h *history.History, n crimpName, made, when string) (history.Standing, error) {
	found, err := named(ctx, h, n)
	if err != nil {
		return history.Standing{}, err
	}
	if differ(found, func(s history.Standing) string { return s.Crimp.Label.Name() }) || !found[0].OnePlace(found...) {
		return history.Standing{}, several(n.crimp, found)
	}
	if made != "" && (len(found) > 1 || found[0].Crimp.Label.Date != "") { // else it may be of any day
		return madeOn(n.crimp, made, found)
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
func named(ctx context.Context, h *history.History, n crimpName) ([]history.Standing, error) {
	all, err := h.Named(ctx, n.crimp, n.str, n.trainee)
	if err != nil {
		return nil, err
	}
	var found []history.Standing
	for _, s := range all {
		if n.source == "" || isSource(s.Source, n.source) {
			found = append(found, s)
		}
	}
	switch {
	case len(found) > 0:
		return found, nil
	case len(all) > 0:
		return nil, fmt.Errorf("there is no crimp %q that was scanned in %q; there is %s", n.crimp, n.source, toldApart(all))
	}
	near, err := nearCrimps(ctx, h, n.crimp, n.str, n.trainee)
	if err != nil {
		return nil, err
	}
	return nil, unknownCrimp{history.Standing{Crimp: site.Crimp{Label: site.Label{String: n.str, Trainee: n.trainee, Crimp: n.crimp}}}.Crimp.Name(), near}
}

// isSource tells whether a source of a scan, one path a line, is what the caller calls it: its path, as seen from here, or
// the end of it.
func isSource(source, given string) bool {
	absolute, err := filepath.Abs(given)
	for path := range strings.SplitSeq(source, "\n") {
		if path == given || err == nil && path == absolute || strings.HasSuffix(path, string(filepath.Separator)+filepath.Clean(given)) {
			return true
		}
	}
	return false
}

// place is where a crimp without pictures is said to be: one of the sources of the history. Where it has several it must be
// said.
func (n crimpName) place(ctx context.Context, h *history.History) (string, error) {
	scans, err := h.Scans(ctx)
	if err != nil {
		return "", err
	}
	var all, fit []string
	for _, s := range scans {
		if !slices.Contains(all, s.Source) {
			all = append(all, s.Source)
			if n.source == "" || isSource(s.Source, n.source) {
				fit = append(fit, s.Source)
			}
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(all) == 0 && n.source == "":
		return "", nil
	case len(fit) == 0:
		return "", fmt.Errorf("nothing was scanned in %q; the history knows %s", n.source, quoted(all))
	}
	return "", fmt.Errorf("the history knows scans of several places, %s: say with --source in which of them the crimp is", quoted(fit))
}

func quoted(texts []string) string {
	all := make([]string, len(texts))
	for i, text := range texts {
		all[i] = fmt.Sprintf("%q", text)
	}
	return strings.Join(all, ", ")
}

// distinctions are what tells crimps of one name apart, and the option for it.
var distinctions = []struct {
	name, option string
	of           func(history.Standing) string
}{
	{"string", "--string", func(s history.Standing) string { return s.Crimp.Label.String }},
	{"trainee", "--trainee", func(s history.Standing) string { return s.Crimp.Label.Trainee }},
	{"made on", "--date", func(s history.Standing) string { return s.Crimp.Label.Date }},
	{"scanned in", "--source", func(s history.Standing) string { return s.Source }},
}

func differ(all []history.Standing, of func(history.Standing) string) bool {
	for _, s := range all {
		if of(s) != of(all[0]) {
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
			if value := d.of(s); value != "" && (d.option != "--source" || differ(all, d.of)) {
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
