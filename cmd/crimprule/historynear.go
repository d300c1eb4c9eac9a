package main

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/history"
	"crimprule/internal/site"
)

// unknownCrimp says that the history has no such crimp, and which ones are near.
type unknownCrimp struct {
	name string
	near []string
}

func (u unknownCrimp) Error() string {
	if len(u.near) == 0 {
		return fmt.Sprintf("the history has no crimp %q, nor any like it: see crimprule history list", u.name)
	}
	return fmt.Sprintf("the history has no crimp %q; did you mean %s? All are in crimprule history list", u.name, strings.Join(u.near, ", "))
}

const mostNear = 5

// nearCrimps gives the names of crimps that may have been meant, quoted, the nearest first.
func nearCrimps(ctx context.Context, h *history.History, name, str, trainee string) ([]string, error) {
	type candidate struct {
		name string
		far  int
	}
	wanted := site.Label{String: str, Trainee: trainee, Crimp: name}.Name()
	var near []candidate
	err := h.List(ctx, history.Filter{}, func(s history.Standing) error {
		whole := s.Crimp.Name()
		far := min(letters(wanted, whole), 1+letters(name, s.Crimp.Label.Crimp))
		if far <= 2 {
			near = append(near, candidate{whole, far})
			slices.SortStableFunc(near, func(a, b candidate) int { return cmp.Compare(a.far, b.far) })
			near = near[:min(len(near), mostNear)]
		}
		return nil
	})
	names := make([]string, len(near))
	for i, c := range near {
		names[i] = fmt.Sprintf("%q", c.name)
	}
	return names, err
}

// letters is how many letters must be put in, taken out or changed to make b of a (Levenshtein's distance), capitals and
// small ones being equal; it stops to count above 3.
func letters(a, b string) int {
	const enough = 3
	from, to := []rune(strings.ToLower(a)), []rune(strings.ToLower(b))
	if max(len(from)-len(to), len(to)-len(from)) >= enough {
		return enough
	}
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range from {
		diagonal := row[0]
		row[0] = i + 1
		for j, s := range to {
			change := diagonal
			if r != s {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return min(row[len(to)], enough)
}
