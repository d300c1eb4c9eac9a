package vision

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
	"crimprule/vision/tag"
)

// Which part a picture shows is taken or not, never guessed; why not is told.
func TestWhatBecomesOfTags(t *testing.T) {
	read := func(text string) tag.Code { return tag.Code{Text: text, Read: true} }
	for name, c := range map[string]struct {
		codes      []tag.Code
		want, note string
	}{
		"none":            {},
		"one":             {[]tag.Code{read("string-03 crimp-01")}, "string-03 crimp-01", ""},
		"a line's end":    {[]tag.Code{read("string-03 crimp-01\r\n")}, "string-03 crimp-01", ""},
		"the same twice":  {[]tag.Code{read("a"), read("a")}, "a", ""},
		"two":             {[]tag.Code{read("a"), read("b")}, "", "2 tags are in the picture and none is taken"},
		"unread":          {[]tag.Code{{}}, "", "cannot be read"},
		"one and unread":  {[]tag.Code{{}, read("a")}, "", "a second tag"},
		"for a terminal":  {[]tag.Code{read("a\x1b[2Jb")}, "", "U+001B"},
		"a page of text":  {[]tag.Code{read(strings.Repeat("long ", 100))}, "", "499 characters, more than 200"},
		"nothing in it":   {[]tag.Code{read(" ")}, "", "empty"},
		"right to left":   {[]tag.Code{read("a\u202etxt.exe")}, "", "U+202E"},
		"other alphabets": {[]tag.Code{read("бригада 7")}, "бригада 7", ""},
	} {
		rec := record.New(record.Seam)
		takeTag(c.codes, &rec)
		assert.Equal(t, c.want, rec.Tag, name)
		if c.note == "" {
			assert.Empty(t, rec.Notes, name)
			continue
		}
		if assert.Len(t, rec.Notes, 1, name) {
			assert.Contains(t, rec.Notes[0], c.note)
			assert.NotContains(t, rec.Notes[0], "\x1b")
		}
	}
}
