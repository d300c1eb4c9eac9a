package evidence

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

func gone(name string, result record.Result, day int) Missing {
	return Missing{Name: name, Result: result, When: time.Date(2026, 11, day, 9, 0, 0, 0, time.UTC)}
}

// TestDeletingAPictureMendsNothing: crimps that an earlier scan did not find to conform stand in the answer when their
// pictures are gone, however good the present ones are.
func TestDeletingAPictureMendsNothing(t *testing.T) {
	for _, c := range []struct {
		missing []Missing
		results map[record.Result]int
		want    string
	}{
		{[]Missing{gone("a", record.DoesNotConform, 20), gone("b", record.DoesNotConform, 20)}, map[record.Result]int{record.Conforms: 5},
			"Not on these pictures: 2 crimps that did not conform on 2026-11-20 are not among these pictures."},
		{[]Missing{gone("a", record.NotProven, 20), gone("b", record.NotMeasured, 20), gone("c", record.NotMeasured, 18)}, map[record.Result]int{record.Conforms: 5, record.DoesNotConform: 1},
			"Not on these pictures: 1 crimp must be made anew, 2 crimps that were not measured between 2026-11-18 and 2026-11-20 are not among these pictures, " +
				"1 crimp that was not proven on 2026-11-20 is not among these pictures."},
		{[]Missing{gone("a", record.DoesNotConform, 20)}, map[record.Result]int{"": 2},
			"These pictures do not answer it: nothing was judged, since no limits were given. 1 crimp that did not conform on 2026-11-20 is not among these pictures."},
		{[]Missing{gone("a", record.DoesNotConform, 20)}, nil,
			"These pictures do not answer it: there is none. 1 crimp that did not conform on 2026-11-20 is not among these pictures."},
	} {
		b := bookOf(c.results, site.Label{})
		b.info.Missing = c.missing
		assert.Equal(t, c.want, b.answer().Head)
		assert.False(t, b.answer().Clear)
		assert.Equal(t, len(c.missing), b.summary().Missing)
	}
}

// TestMissingCrimpsAreListed in the page and in the PDF, the worst first.
func TestMissingCrimpsAreListed(t *testing.T) {
	v := newInvented(t, 3)
	info := v.info()
	info.Missing = []Missing{gone("string 4 / <10>", record.DoesNotConform, 20), gone("string 1 / 1", record.NotProven, 18), gone("string 4 / 9", record.DoesNotConform, 20)}
	dir := t.TempDir()
	_, err := Write(context.Background(), dir, info, v)
	require.NoError(t, err)
	page, pdf := read(t, dir, "index.html"), strings.Join(strings.Fields(pdfText(t, filepath.Join(dir, "evidence.pdf"))), " ")
	assert.Contains(t, page, `<a href="#missing">`)
	assert.Regexp(t, `(?s)id="missing">Crimps that are not among these pictures.*string 4 / 9.*DOES NOT CONFORM.*2026-11-20.*string 4 / &lt;10&gt;.*string 1 / 1.*not proven.*2026-11-18`, page)
	assert.Regexp(t, `Crimps that are not among these pictures .*string 4 / 9: DOES NOT CONFORM on 2026-11-20.*string 4 / <10>.*string 1 / 1: not proven on 2026-11-18`, pdf)
	dir, _ = written(t, v)
	assert.NotContains(t, read(t, dir, "index.html"), "missing crimps")
}
