package evidence

import (
	"fmt"

	"crimprule/internal/wording"
)

// mostLeftAlone is how many of the files that were left alone are named.
const mostLeftAlone = 48

const (
	leftAloneHead = "Files that were left alone"
	notesHead     = "To look into"
)

// leftAlone names the files that were no pictures, up to a number, and counts the rest.
func (b *book) leftAlone() []string {
	all := b.info.LeftAlone
	n := min(len(all), mostLeftAlone)
	var names []string
	for _, name := range all[:n] {
		names = append(names, wording.Clean(name))
	}
	if more := len(all) - n; more > 0 {
		names = append(names, fmt.Sprintf("and %d more", more))
	}
	return names
}

// notes are what else a person must look into, fit to be printed.
func (b *book) notes() []string {
	var all []string
	for _, note := range b.info.Notes {
		all = append(all, wording.Clean(note))
	}
	return all
}
