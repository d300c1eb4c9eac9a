package evidence

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// bookOf keeps crimps that have nothing but a result and a label.
func bookOf(results map[record.Result]int, label site.Label) *book {
	b := newBook(Info{})
	for _, result := range order {
		for range results[result] {
			b.take(site.Crimp{Number: len(b.rows) + 1, Result: result, Label: label, Pictures: []site.Picture{seen(record.Seam)}})
		}
	}
	return b
}

func seen(view record.View) site.Picture {
	rec := record.New(view)
	return site.Picture{Record: &rec}
}

// TestYield: the share counts what conforms over what was judged and measured. The interval of 8 of 10 is a worked
// example of many handbooks: 0.4439 to 0.9748 (from memory; the beta quantiles agree).
func TestYield(t *testing.T) {
	b := bookOf(map[record.Result]int{record.Conforms: 8, record.DoesNotConform: 1, record.NotProven: 1, record.NotMeasured: 4, "": 2}, site.Label{Crew: "crew A"})
	y := b.yield("", func(row) bool { return true })
	assert.Equal(t, []int{8, 10, 4, 2}, []int{y.Conforming, y.Of, y.NotMeasured, y.None})
	assert.InDelta(t, 0.4439, y.Low, 5e-5)
	assert.InDelta(t, 0.9748, y.High, 5e-5)
	assert.Equal(t, "80.0 % (44.4 to 97.5 %), 8 of 10; 4 not measured; 2 not judged", y.Full())

	groups := b.groupings()
	require.Len(t, groups, 1, "only what labels name")
	assert.Equal(t, "crew", groups[0].Title)
	assert.Equal(t, y.Full(), groups[0].Shares[0].Full())
	assert.Equal(t, "none judged, 0 of 0; 3 not measured", bookOf(map[record.Result]int{record.NotMeasured: 3}, site.Label{}).yield("", func(row) bool { return true }).Full())
}

func TestNamesAreInTheOrderThatPeopleExpect(t *testing.T) {
	want := []string{"9", "10", "a", "string 02", "string 2", "string 9", "string 10", "string 10b", "string 99999999999999999999998", "string 99999999999999999999999", ""}
	got := slices.Clone(want)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
	slices.SortFunc(got, ByName)
	assert.Equal(t, want, got)
}

// TestAnswer: it is never yes, and says what stands against it.
func TestAnswer(t *testing.T) {
	for _, c := range []struct {
		results map[record.Result]int
		want    string
	}{
		{map[record.Result]int{record.Conforms: 5, record.DoesNotConform: 4, record.NotMeasured: 3, record.NotProven: 1},
			"Not on these pictures: 4 crimps must be made anew, 3 must be photographed again, 1 is not proven."},
		{map[record.Result]int{record.Conforms: 5, record.DoesNotConform: 1}, "Not on these pictures: 1 crimp must be made anew."},
		{map[record.Result]int{record.Conforms: 5, record.NotProven: 2}, "Not on these pictures: 2 are not proven."},
		{map[record.Result]int{record.Conforms: 5, "": 2}, "Not on these pictures: 2 were not judged, since there were no limits for them."},
		{map[record.Result]int{"": 2}, "These pictures do not answer it: nothing was judged, since no limits were given."},
		{nil, "These pictures do not answer it: there is none."},
		{map[record.Result]int{record.Conforms: 5},
			"Nothing in these pictures speaks against it; the decision is the licensed person's, after the tests that the code of the place asks for."},
	} {
		a := bookOf(c.results, site.Label{}).answer()
		assert.Equal(t, c.want, a.Head)
		assert.Equal(t, strings.HasPrefix(c.want, "Nothing"), a.Clear)
		assert.NotContains(t, strings.ToLower(a.Head), "yes")
		assert.Contains(t, a.More, notByPictures)
	}
	b := newBook(Info{})
	b.take(site.Crimp{Number: 1, Result: record.Conforms, Pictures: []site.Picture{seen(record.Strip)}})
	b.take(site.Crimp{Number: 2, Result: record.Conforms, Pictures: []site.Picture{seen(record.Section)}})
	assert.Equal(t, "These pictures do not answer it: they show no finished crimp.", b.answer().Head)
	b.take(site.Crimp{Number: 3, Result: record.DoesNotConform, Pictures: []site.Picture{seen(record.Section)}})
	b.take(site.Crimp{Number: 4, Result: record.DoesNotConform, Pictures: []site.Picture{seen(record.Strip)}, Warnings: []string{"w"}})
	assert.Equal(t, "Not on these pictures: 1 wire must be stripped anew, 1 section does not conform.", b.answer().Head)
	assert.Contains(t, strings.Join(b.answer().More, " "), "1 crimp has a remark that a person must look into")
}

// TestLot: ISO 2859-1, lot of 500 at AQL 1.0, level II: letter H, a sample of 50, accepted with 1, rejected with 2.
func TestLot(t *testing.T) {
	for _, c := range []struct {
		bad, open, good int
		size            int
		want            statistics.Outcome
	}{
		{1, 0, 49, 500, statistics.Accepted}, {2, 0, 48, 500, statistics.Rejected}, {1, 1, 48, 500, statistics.Open}, {0, 1, 49, 500, statistics.Accepted},
		{0, 0, 40, 500, statistics.Open}, {2, 0, 3, 500, statistics.Rejected}, {0, 0, 60, 50, statistics.Open}, {0, 0, 60, 1, statistics.Open},
	} {
		b := bookOf(map[record.Result]int{record.Conforms: c.good, record.DoesNotConform: c.bad, record.NotProven: c.open}, site.Label{})
		b.info.Lot = &Lot{Size: c.size, AQL: 1}
		lot := b.lot()
		assert.Equal(t, c.want, lot.Outcome, "%+v: %s", c, lot.Head)
		assert.NotEmpty(t, lot.Head)
	}
	assert.Nil(t, bookOf(nil, site.Label{}).lot())
}

// TestDrift: a tool whose symmetry walks away is told, one that is steady is not, and one with few crimps has no chart
// and says so. Charts follow the date on which the crimps were made, else that of the pictures, else the scan.
func TestDrift(t *testing.T) {
	dice := rand.New(rand.NewPCG(3, 4))
	limits, err := tolerance.Parse("canopy.yaml", []byte(canopyText))
	require.NoError(t, err)
	b := newBook(Info{Tolerances: []Tolerances{{Limits: limits}}})
	add := func(tool, date, taken string, symmetry float64) {
		rec := record.New(record.Seam)
		rec.Taken = taken
		rec.Set(record.Symmetry, symmetry, 0.01)
		b.take(site.Crimp{Number: len(b.rows) + 1, Label: site.Label{Tool: tool, Date: date}, Pictures: []site.Picture{{Record: &rec}}})
	}
	for i := range 30 {
		add("tool 2", "", time.Date(2026, 5, 4, 12, 0, 30-i, 0, time.UTC).Format(time.RFC3339), 0.90+0.0015*float64(i)+0.004*dice.NormFloat64())
		add("tool 10", "", "", 0.95+0.01*dice.NormFloat64())
	}
	for range 7 {
		add("tool 9", "", "", 0.95)
	}
	for i := range 9 {
		add("stuck", "", "", 0.95)
		add("worn", "", "", 0.97-0.02*float64(i)+0.002*dice.NormFloat64())
	}
	tools := b.toolDrifts()
	require.Len(t, tools, 5)
	assert.Contains(t, strings.Join(tools[4].Series[0].Remarks, "\n"), "has passed the limit of 0.85: stop")
	assert.Equal(t, []string{"stuck", "tool 2", "tool 9", "tool 10"}, []string{tools[0].Tool, tools[1].Tool, tools[2].Tool, tools[3].Tool})
	assert.Contains(t, tools[0].Series[0].Head, "There is no chart")
	assert.Equal(t, "tool stuck", tools[0].Name())

	walking := tools[1].Series[0]
	assert.True(t, tools[1].Speaks())
	assert.Equal(t, "30 crimps in the order in which they were photographed or measured", walking.Order)
	text := strings.Join(walking.Remarks, "\n")
	assert.Regexp(t, `walks down by about 0\.0[34]`, text, "30 steps of 0.0015, the last picture having been taken first")
	assert.Regexp(t, `from no. 59 to no. \d+, \d+ in a row, all lie above the centre`, text, "the last crimps were photographed first")
	assert.Regexp(t, `above the control limit: no. 59, [no. \d,]+\n`, text)
	assert.Regexp(t, `below the control limit: [no. \d,]+\n`, text)
	assert.Regexp(t, `it would meet the limit of 0.85 after about \d+ more crimps`, text)

	assert.Equal(t, []string{"symmetry of left and right, seam view: 7 crimps, and a chart needs 8"}, tools[2].Short)
	assert.Equal(t, "too few values for a chart", tools[2].Head)
	steady := tools[3].Series[0]
	assert.Equal(t, "30 crimps in the order of the scan", steady.Order)
	assert.NotContains(t, strings.Join(steady.Remarks, "\n"), "walks")
}

// TestDriftIsNotLedByWrongClocks: where a camera's clock cannot have been right, the order of the scan holds.
func TestDriftIsNotLedByWrongClocks(t *testing.T) {
	b := newBook(Info{})
	for i := range 10 {
		rec := record.New(record.Seam)
		rec.Taken = fmt.Sprintf("2037-01-%02dT08:00:00", 20-i)
		rec.Set(record.Symmetry, 0.9+0.01*float64(i%3), 0.01)
		b.take(site.Crimp{Number: i + 1, Label: site.Label{Tool: "tool"}, Pictures: []site.Picture{{Record: &rec, Measured: time.Date(2026, 5, 4, 0, 0, 0, 0, time.UTC)}}})
	}
	assert.Equal(t, "10 crimps in the order of the scan", b.toolDrifts()[0].Series[0].Order)
}

// TestWorstOfACrimpThatWasNotMeasured: the reason is that of the picture that decided, not that of one that was taken again.
func TestWorstOfACrimpThatWasNotMeasured(t *testing.T) {
	good := record.New(record.Seam)
	good.Set(record.Symmetry, 0.95, 0.01)
	good.Verdict = &record.Verdict{Result: record.Conforms, Features: []record.Feature{{Key: record.Symmetry, Result: record.Conforms, Value: new(0.95), U: new(0.01),
		Min: new(0.85)}}}
	refused := func(view record.View, why string) site.Picture {
		rec := record.New(view)
		rec.Refuse(why)
		return site.Picture{Record: &rec}
	}
	c := site.Crimp{Number: 1, Pictures: []site.Picture{refused(record.Seam, "too dark"), {Record: &good}, refused(record.Side, "hold it still")}}
	c.Settle(true)
	require.Equal(t, record.NotMeasured, c.Result)
	assert.Equal(t, "hold it still", newRow(c).Worst)
	c.Pictures = c.Pictures[:2]
	c.Settle(true)
	require.Equal(t, record.Conforms, c.Result)
	assert.Equal(t, "symmetry of left and right 0.950 ± 0.010 (at least 0.85)", newRow(c).Worst)
	c.Pictures = []site.Picture{{Failure: "it is empty: copy it again"}}
	c.Settle(false)
	assert.Equal(t, "it is empty: copy it again", newRow(c).Worst)
}

// TestDriftOfWhatWasMeasuredElsewhere: a micrometer's crimp heights have a chart too, held against their own limits.
func TestDriftOfWhatWasMeasuredElsewhere(t *testing.T) {
	limits, err := tolerance.Parse("a.yaml", []byte("limits: {bend: {max: 3 deg}}\nelsewhere: {crimp_height: {min: 2.15 mm, max: 2.25 mm}}\n"))
	require.NoError(t, err)
	b := newBook(Info{Tolerances: []Tolerances{{Limits: limits}}})
	for i := range 12 {
		b.take(site.Crimp{Number: i + 1, Label: site.Label{Tool: "press"}, Elsewhere: []site.Elsewhere{{Key: record.CrimpHeight, When: "2026-05-04",
			Value: record.Value{Value: 2.16 + 0.005*float64(i) + 0.001*float64(i%3), U: 0.002, Unit: "mm"}}}})
	}
	s := b.toolDrifts()[0].Series
	require.Len(t, s, 1)
	assert.Equal(t, "crimp height, measured elsewhere", s[0].Title)
	assert.Contains(t, strings.Join(s[0].Remarks, "\n"), "it would meet the limit of 2.25 after about 7 more crimps")
}

func TestOrderOfACharts(t *testing.T) {
	points := []point{{crimp: 1, made: "2026-05-02", taken: "2026-05-04T10:00:00+02:00"}, {crimp: 2, made: "2026-05-01", taken: "2026-05-04T08:30:00Z"}, {crimp: 3,
		made: "2026-05-02", taken: "2026-05-04T07:59:00Z"}}
	numbers := func(points []point) string {
		text := ""
		for _, p := range points {
			text += fmt.Sprint(p.crimp)
		}
		return text
	}
	got, by := ordered(points)
	assert.Equal(t, "231", numbers(got), "by day, then by the picture: 10:00 at +02:00 is 08:00 UTC")
	assert.Equal(t, "in the order in which they were made", by)
	points[1].made = ""
	got, by = ordered(points)
	assert.Equal(t, "312", numbers(got))
	assert.Equal(t, "in the order in which they were photographed or measured", by)
	points[2].taken = "yesterday"
	got, by = ordered(points)
	assert.Equal(t, "123", numbers(got))
	assert.Equal(t, "in the order of the scan", by)
}
