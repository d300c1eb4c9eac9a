package evidence

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// oneCrimp is a source of a single crimp.
type oneCrimp site.Crimp

func (c oneCrimp) Crimps(_ context.Context, each func(site.Crimp) error) error {
	return each(site.Crimp(c))
}

// TestEachValueElsewhereHasItsOwnJudgement: two heights of one crimp, of which one conforms, are told apart in the CSV and on
// the crimp's page.
func TestEachValueElsewhereHasItsOwnJudgement(t *testing.T) {
	limits, err := tolerance.Parse("a.yaml", []byte("limits: {bend: {max: 3 deg}}\nelsewhere: {crimp_height: {min: 2.15 mm, max: 2.25 mm}}\n"))
	require.NoError(t, err)
	height := func(mm float64) site.Elsewhere {
		return site.Elsewhere{Key: record.CrimpHeight, Value: record.Value{Value: mm, U: 0.01, Unit: "mm"}, Who: "crew A", When: "2026-05-04"}
	}
	c := site.Crimp{Number: 1, Label: site.Label{Crimp: "04"}, Elsewhere: []site.Elsewhere{height(2.21), height(2.31)}}
	c.ElsewhereVerdict = verdict.JudgeElsewhere(c.Elsewhere, limits)
	c.Settle(true)
	dir := t.TempDir()
	_, err = Write(context.Background(), dir, Info{Title: "canopy", Also: []Link{{"more <here>", "more/a b.html"}}}, oneCrimp(c))
	require.NoError(t, err)

	var rows []string
	for line := range strings.Lines(read(t, dir, "crimps.csv")) {
		if strings.Contains(line, "crimp_height") {
			rows = append(rows, line)
		}
	}
	require.Len(t, rows, 2)
	assert.Contains(t, rows[0], "2.210")
	assert.Contains(t, rows[1], "2.310")
	assert.Equal(t, 1, strings.Count(rows[0], ",conforms,"), rows[0])
	assert.GreaterOrEqual(t, strings.Count(rows[1], "does_not_conform"), 2, "the value and the crimp: %s", rows[1])

	page := read(t, dir, "crimps/0001.html")
	found := regexp.MustCompile(`(?s)(2\.[23]10 ± 0\.010 mm).*?class="badge (\w+)"`).FindAllStringSubmatch(page, 2)
	require.Len(t, found, 2)
	assert.Equal(t, []string{"conforms", "does_not_conform"}, []string{found[0][2], found[1][2]})
	assert.Contains(t, read(t, dir, "index.html"), `<a href="more/a%20b.html">more &lt;here&gt;</a>`)
}

// TestWhatWasWithdrawnIsShownAndNotJudged: a value that does not count stands in the CSV and on the page, with the reason.
func TestWhatWasWithdrawnIsShownAndNotJudged(t *testing.T) {
	limits, err := tolerance.Parse("a.yaml", []byte("limits: {bend: {max: 3 deg}}\nelsewhere: {crimp_height: {min: 2.15 mm, max: 2.25 mm}}\n"))
	require.NoError(t, err)
	height := site.Elsewhere{Key: record.CrimpHeight, Value: record.Value{Value: 3.21, U: 0.01, Unit: "mm"}, Who: "crew A", When: "2026-05-04"}
	right := height
	right.Value.Value = 2.21
	height.Withdrawn = "withdrawn by crew <A> on 2026-05-05: typing error"
	c := site.Crimp{Number: 1, Label: site.Label{Crimp: "04"}, Elsewhere: []site.Elsewhere{height, right}}
	c.ElsewhereVerdict = verdict.JudgeElsewhere(c.Elsewhere, limits)
	c.Settle(true)
	require.Equal(t, record.Conforms, c.Result)
	dir := t.TempDir()
	_, err = Write(context.Background(), dir, Info{Title: "canopy"}, oneCrimp(c))
	require.NoError(t, err)
	assert.Regexp(t, `(?m)crimp_height,[^\n]*,3\.210,[^\n]*withdrawn by crew <A> on 2026-05-05: typing error`, read(t, dir, "crimps.csv"))
	page := read(t, dir, "crimps/0001.html")
	assert.Contains(t, page, "not judged: withdrawn by crew &lt;A&gt; on 2026-05-05: typing error")
	assert.Regexp(t, `(?s)3\.210 ± 0\.010 mm</td><td[^>]*>[^<]*</td><td[^>]*></td>`, page, "no badge")
	assert.Contains(t, read(t, dir, "records.jsonl"), `"withdrawn":"withdrawn by crew`)
}
