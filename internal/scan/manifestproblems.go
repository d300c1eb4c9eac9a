package scan

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"crimprule/internal/tolerance"
)

func (m *manifestReader) err() error {
	slices.SortStableFunc(m.problems, func(a, b tolerance.Problem) int {
		return cmp.Or(cmp.Compare(a.Place.Line, b.Place.Line), cmp.Compare(a.Place.Column, b.Place.Column))
	})
	m.problems = together(m.problems)
	shown := min(len(m.problems), maxShownProblems)
	return &tolerance.Error{Problems: m.problems[:shown], More: len(m.problems) - shown}
}

// together makes one problem of those that say the same of several lines, at the first of them.
func together(problems []tolerance.Problem) []tolerance.Problem {
	type same struct{ message, hint string }
	at := map[same]int{}
	lines := map[int][]int{} // of each that is kept
	var kept []tolerance.Problem
	for _, p := range problems {
		key := same{p.Message, p.Hint}
		i, known := at[key]
		if !known {
			i = len(kept)
			at[key] = i
			kept = append(kept, p)
		}
		if l := lines[i]; len(l) == 0 || l[len(l)-1] != p.Place.Line {
			lines[i] = append(l, p.Place.Line)
		}
	}
	for i, l := range lines {
		if len(l) > 1 {
			kept[i].Message += fmt.Sprintf(" (in %d lines: %s)", len(l), ranges(l))
		}
	}
	return kept
}

// ranges writes ascending numbers, as 2-9, 12; of many the first.
func ranges(numbers []int) string {
	const most = 5
	var all []string
	for i := 0; i < len(numbers); {
		last := i
		for last+1 < len(numbers) && numbers[last+1] == numbers[last]+1 {
			last++
		}
		if len(all) == most {
			return strings.Join(all, ", ") + " ..."
		}
		text := strconv.Itoa(numbers[i])
		if last > i {
			text += "-" + strconv.Itoa(numbers[last])
		}
		all = append(all, text)
		i = last + 1
	}
	return strings.Join(all, ", ")
}

// complain notes a problem at a byte of a line; both count from 1.
func (m *manifestReader) complain(line, column int, message, hint string) {
	line = min(max(line, 1), len(m.lines))
	text := strings.TrimSuffix(m.lines[line-1], "\r")
	column = min(max(column, 1), len(text)+1)
	m.problems = append(m.problems, tolerance.Problem{
		Place:   tolerance.Place{File: m.name, Line: line, Column: 1 + utf8.RuneCountInString(text[:column-1])},
		Excerpt: text, Message: message, Hint: hint,
	})
}

// at complains of a cell of the line that was read last.
func (m *manifestReader) at(cell int, message, hint string) {
	line, column := m.csv.FieldPos(cell)
	m.complain(line, column, message, hint)
}
