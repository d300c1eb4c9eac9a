package tolerance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// maxProblems is how many problems one reading tells: more help nobody.
const maxProblems = 10

// Place is where something stands in a file. Line and Column count from 1, columns in characters.
type Place struct {
	File         string
	Line, Column int
}

// Problem is one thing that is wrong in a tolerances file.
type Problem struct {
	Place   Place
	Excerpt string // the line itself
	Message string // what is wrong
	Hint    string // what to do about it
}

// Error is everything that was found wrong in a file, in the order of the file.
type Error struct {
	Problems []Problem // at most maxProblems
	More     int       // how many further ones were found
}

// Error prints every problem as FILE:LINE:COLUMN: what is wrong, then the line itself with a caret under the place,
// then what to do.
func (e *Error) Error() string {
	var b strings.Builder
	for i, p := range e.Problems {
		if i > 0 {
			b.WriteString("\n\n")
		}
		b.WriteString(p.String())
	}
	if e.More > 0 {
		fmt.Fprintf(&b, "\n\n... and %d more: put these right first", e.More)
	}
	return b.String()
}

// String prints one problem; see Error.Error.
func (p Problem) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d:%d: %s", p.Place.File, p.Place.Line, p.Place.Column, p.Message)
	if strings.TrimSpace(p.Excerpt) != "" {
		line, column := window(p.Excerpt, p.Place.Column)
		fmt.Fprintf(&b, "\n    %s\n    %s^", line, strings.Repeat(" ", column-1))
	}
	for line := range strings.Lines(p.Hint) {
		b.WriteString("\n  " + strings.TrimRight(line, "\n"))
	}
	return b.String()
}

// window makes a line fit for a terminal: tabs and control characters become spaces, so that the caret stands right
// and nothing in the file can steer the terminal, and of a long line only the part round the column is left.
func window(line string, column int) (string, int) {
	const before, after = 60, 40
	runes := []rune(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == utf8.RuneError {
			return ' '
		}
		return r
	}, line))
	column = min(max(column, 1), len(runes)+1)
	if len(runes) <= before+after {
		return string(runes), column
	}
	from := max(column-before, 0)
	return string(runes[from:min(column+after, len(runes))]), column - from
}

// complaints gathers problems while a file is read.
type complaints struct {
	file     string
	lines    []string
	problems []Problem
}

func (c *complaints) add(line, column int, message, hint string) {
	line = min(max(line, 1), len(c.lines))
	place := Place{File: c.file, Line: line, Column: max(column, 1)}
	c.problems = append(c.problems, Problem{Place: place, Excerpt: c.lines[line-1], Message: message, Hint: hint})
}

// err is nil where nothing is wrong.
func (c *complaints) err() error {
	if len(c.problems) == 0 {
		return nil
	}
	slices.SortStableFunc(c.problems, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Place.Line, b.Place.Line), cmp.Compare(a.Place.Column, b.Place.Column))
	})
	shown := min(len(c.problems), maxProblems)
	return &Error{Problems: c.problems[:shown], More: len(c.problems) - shown}
}

// nearest returns the name that was probably meant by text, or "" where none is near: at most one change in four
// letters, with - and space read as _ and capitals as small letters.
func nearest(text string, names []string) string {
	plain := strings.NewReplacer("-", "_", " ", "_").Replace(strings.ToLower(text))
	best, least := "", len(plain)/4+1
	for _, name := range names {
		if d := edits(plain, name); d <= least && (best == "" || d < least) {
			best, least = name, d
		}
	}
	return best
}

// edits is the Levenshtein distance of two short words, in bytes.
func edits(a, b string) int {
	if len(a) > 64 {
		return len(a) // no name is that long, so that none is near
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// Allowed is the hint for an unknown name: the one that was probably meant, and all that there are.
func Allowed(text string, names []string) string {
	hint := wrap("allowed here: "+strings.Join(names, ", "), 100)
	if near := nearest(text, names); near != "" {
		return fmt.Sprintf("did you mean %s?\n%s", near, hint)
	}
	return hint
}

// wrap breaks text into lines of at most width characters, at spaces.
func wrap(text string, width int) string {
	var b strings.Builder
	used := 0
	for _, word := range strings.Fields(text) {
		switch {
		case used == 0:
		case used+1+len(word) > width:
			b.WriteByte('\n')
			used = 0
		default:
			b.WriteByte(' ')
			used++
		}
		b.WriteString(word)
		used += len(word)
	}
	return b.String()
}
