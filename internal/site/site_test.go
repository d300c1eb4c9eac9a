package site

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

func judged(view record.View, result record.Result, score float64) Picture {
	rec := record.New(view)
	rec.Verdict = &record.Verdict{Result: result, Score: score}
	return Picture{Record: &rec}
}

func refused(view record.View) Picture {
	p := judged(view, record.NotMeasured, 0)
	p.Record.Refuse("the picture is blurred")
	return p
}

func TestACrimpIsAsGoodAsItsWorstFeature(t *testing.T) {
	broken := Picture{Failure: "is cut short"}
	sideAsked := refused(record.Auto)
	sideAsked.Asked = record.Side
	seamAsked := broken
	seamAsked.Asked = record.Seam
	unjudged := judged(record.Side, "", 0)
	unjudged.Record.Verdict = nil
	for name, c := range map[string]struct {
		pictures []Picture
		other    *record.Verdict
		limits   bool
		result   record.Result
		score    float64
	}{
		"one good picture":                        {[]Picture{judged(record.Seam, record.Conforms, 90)}, nil, true, record.Conforms, 90},
		"the worse of two views":                  {[]Picture{judged(record.Seam, record.Conforms, 90), judged(record.Side, record.NotProven, 70)}, nil, true, record.NotProven, 70},
		"a proven fault outranks a doubt":         {[]Picture{judged(record.Seam, record.NotProven, 60), judged(record.Side, record.DoesNotConform, 30)}, nil, true, record.DoesNotConform, 30},
		"what was not seen outranks a doubt":      {[]Picture{judged(record.Seam, record.NotMeasured, 0), judged(record.Side, record.NotProven, 50)}, nil, true, record.NotMeasured, 0},
		"refused, and taken again":                {[]Picture{refused(record.Seam), judged(record.Seam, record.Conforms, 88)}, nil, true, record.Conforms, 88},
		"refused, and nobody knows of which view": {[]Picture{refused(record.Auto), judged(record.Seam, record.Conforms, 88)}, nil, true, record.NotMeasured, 0},
		"refused, asked as another view":          {[]Picture{sideAsked, judged(record.Seam, record.Conforms, 88)}, nil, true, record.NotMeasured, 0},
		"refused, and only another view is there": {[]Picture{refused(record.Side), judged(record.Seam, record.Conforms, 88)}, nil, true, record.NotMeasured, 0},
		"refused":                              {[]Picture{refused(record.Seam)}, nil, true, record.NotMeasured, 0},
		"could not be read":                    {[]Picture{broken}, nil, true, record.NotMeasured, 0},
		"could not be read, beside a good one": {[]Picture{broken, judged(record.Seam, record.Conforms, 88)}, nil, true, record.NotMeasured, 0},
		"could not be read, and taken again":   {[]Picture{seamAsked, judged(record.Seam, record.DoesNotConform, 10)}, nil, true, record.DoesNotConform, 10},
		"no limits at all":                     {[]Picture{unjudged, broken}, nil, false, "", 0},
		"a view without limits was not judged": {[]Picture{unjudged, judged(record.Seam, record.Conforms, 80)}, nil, true, "", 0},
		"but what is bad stays bad":            {[]Picture{unjudged, judged(record.Seam, record.DoesNotConform, 20)}, nil, true, record.DoesNotConform, 20},
		"measured elsewhere counts as well": {[]Picture{judged(record.Seam, record.Conforms, 80)},
			&record.Verdict{Result: record.DoesNotConform, Score: 5}, true, record.DoesNotConform, 5},
	} {
		t.Run(name, func(t *testing.T) {
			crimp := Crimp{Pictures: c.pictures, ElsewhereVerdict: c.other}
			crimp.Settle(c.limits)
			assert.Equal(t, c.result, crimp.Result)
			assert.InDelta(t, c.score, crimp.Score, 0)
		})
	}
}

func TestADoubtfulCrimpIsNotProven(t *testing.T) {
	for result, want := range map[record.Result]record.Result{record.Conforms: record.NotProven, record.DoesNotConform: record.DoesNotConform} {
		crimp := Crimp{Pictures: []Picture{judged(record.Seam, result, 50)}}
		crimp.Doubt("the tag names another crimp")
		crimp.Doubt("the tag names another crimp")
		crimp.Settle(true)
		assert.Equal(t, want, crimp.Result)
		assert.Len(t, crimp.Doubts, 1)
	}
	crimp := Crimp{Pictures: []Picture{judged(record.Seam, record.Conforms, 95)}}
	crimp.Doubt("the tag names another crimp")
	crimp.Settle(true)
	assert.Equal(t, MostUnproven, crimp.Score, "70 and more are for what conforms")
}

func TestPicturesOfOneCrimpComeTogether(t *testing.T) {
	at := func(groups [][]Entry) [][]int {
		var all [][]int
		for _, g := range groups {
			var positions []int
			for _, e := range g {
				positions = append(positions, e.Position)
			}
			all = append(all, positions)
		}
		return all
	}
	label := func(str, crimp string) Label { return Label{String: str, Crimp: crimp} }
	for name, c := range map[string]struct {
		entries []Entry
		want    [][]int
	}{
		"by the manifest, in the order of the first pictures": {[]Entry{
			{Position: 0, Label: label("N03", "2"), Origin: FromManifest}, {Position: 1, Label: label("N03", "1"), Origin: FromManifest},
			{Position: 2, Label: label("N03", "2"), Origin: FromManifest}}, [][]int{{0, 2}, {1}}},
		"the same crimp on another string is another crimp": {[]Entry{
			{Position: 0, Label: label("N03", "1"), Origin: FromName}, {Position: 1, Label: label("S07", "1"), Origin: FromName}}, [][]int{{0}, {1}}},
		"the tag outranks the name": {[]Entry{
			{Position: 0, Label: label("N03", "1"), Origin: FromName, Tag: "T-9"}, {Position: 1, Label: label("N03", "2"), Origin: FromName, Tag: "T-9"},
			{Position: 2, Label: label("N03", "1"), Origin: FromName}, {Position: 3, Origin: Alone, Tag: "T-9"}}, [][]int{{0, 1}, {2}, {3}}},
		"the tag outranks a name that nobody said to read": {[]Entry{
			{Position: 0, Label: Label{Trainee: "3", Crimp: "IMG_1"}, Origin: Assumed, Tag: "T-9"},
			{Position: 1, Label: Label{Trainee: "3", Crimp: "IMG_2"}, Origin: Assumed, Tag: "T-9"}}, [][]int{{0, 1}}},
		"the same tag of two strings or two trainees is of two crimps": {[]Entry{
			{Position: 0, Label: Label{Trainee: "3", Crimp: "IMG_1"}, Origin: Assumed, Tag: "1"},
			{Position: 1, Label: Label{Trainee: "4", Crimp: "IMG_1"}, Origin: Assumed, Tag: "1"},
			{Position: 2, Label: label("N03", ""), Origin: FromManifest, Tag: "1"},
			{Position: 3, Label: label("S07", ""), Origin: FromManifest, Tag: "1"}}, [][]int{{0}, {1}, {2}, {3}}},
		"the manifest outranks the tag": {[]Entry{
			{Position: 0, Label: label("N03", "1"), Origin: FromManifest, Tag: "T-9"}, {Position: 1, Origin: Alone, Tag: "T-9"}}, [][]int{{0}, {1}}},
		"a row without a crimp leaves it to the tag": {[]Entry{
			{Position: 0, Label: Label{Crew: "A"}, Origin: FromManifest, Tag: "T-9"}, {Position: 1, Origin: Alone, Tag: "T-9"}}, [][]int{{0, 1}}},
		"another day is another crimp, no day is the last": {[]Entry{
			{Position: 0, Label: Label{Trainee: "3", Crimp: "1", Date: "2026-03-02"}, Origin: FromManifest},
			{Position: 1, Label: Label{Trainee: "3", Crimp: "1", Date: "2026-03-09"}, Origin: FromManifest},
			{Position: 2, Label: Label{Trainee: "3", Crimp: "1"}, Origin: FromManifest},
			{Position: 3, Label: Label{Trainee: "3", Crimp: "1", Date: "2026-03-09"}, Origin: FromManifest}}, [][]int{{0}, {1, 2, 3}}},
		"no day is the last, wherever it stands": {[]Entry{
			{Position: 0, Label: Label{Crimp: "1"}, Origin: FromName}, {Position: 1, Label: Label{Crimp: "1", Date: "2026-03-02"}, Origin: FromManifest},
			{Position: 2, Label: Label{Crimp: "1", Date: "2026-03-09"}, Origin: FromManifest}}, [][]int{{0, 2}, {1}}},
		"alone stays alone": {[]Entry{{Position: 0, Origin: Alone}, {Position: 1, Origin: Alone}}, [][]int{{0}, {1}}},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, c.want, at(Group(c.entries))) })
	}
}

func TestContradictionsBetweenPicturesAreTold(t *testing.T) {
	label, conflicts := Merge([]Entry{
		{Label: Label{Crimp: "1", Crew: "A", Own: record.Conforms}}, {Label: Label{Crimp: "1", Crew: "B", Tool: "T1", Note: "rain"}}})
	assert.Equal(t, Label{Crimp: "1", Crew: "A", Tool: "T1", Own: record.Conforms, Note: "rain"}, label)
	assert.Equal(t, []string{"crew is both A and B"}, conflicts)
}

func TestAStrippedWireIsNoCrimp(t *testing.T) {
	strip, seam := judged(record.Strip, record.Conforms, 90), judged(record.Seam, record.Conforms, 90)
	for want, cases := range map[bool][][]Picture{
		true:  {{strip}, {refused(record.Auto), strip}},
		false: {{seam}, {strip, seam}, {refused(record.Strip)}, nil},
	} {
		for _, pictures := range cases {
			assert.Equal(t, want, (&Crimp{Pictures: pictures}).Stripped())
		}
	}
}

func TestNames(t *testing.T) {
	assert.Equal(t, "N03 / 04", Label{String: "N03", Crimp: "04"}.Name())
	assert.Equal(t, "trainee 3 / 2", Label{Trainee: "trainee 3", Crimp: "2"}.Name())
	assert.Empty(t, Label{String: "N03"}.Name(), "a string is no crimp")
	assert.Equal(t, "a/b.jpg", Crimp{Pictures: []Picture{{File: "a/b.jpg"}}}.Name())
}

// Whoever has only to copy a file again, or to say which scale lies beside the part, need not go back to the site for it.
func TestWhatNeedsNoNewPhoto(t *testing.T) {
	cut := Picture{Failure: "is cut short"}
	unscaled := refused(record.Seam)
	unscaled.Record.Retake = []string{record.NoScaleDeclared + ": put a printed chessboard beside the part"}
	wanting := judged(record.Seam, record.NotMeasured, 0)
	good := judged(record.Seam, record.Conforms, 90)
	for name, c := range map[string]struct {
		pictures []Picture
		want     bool
	}{
		"a file that is cut short":             {[]Picture{cut}, true},
		"no scale":                             {[]Picture{unscaled}, true},
		"beside a good picture":                {[]Picture{good, cut}, true},
		"beside a blurred one":                 {[]Picture{cut, refused(record.Side)}, false},
		"a blurred one":                        {[]Picture{refused(record.Seam)}, false},
		"beside one that lacks a value":        {[]Picture{wanting, cut}, false},
		"beside one that was taken again":      {[]Picture{refused(record.Seam), good, cut}, true},
		"what was measured needs nothing":      {[]Picture{good}, false},
		"what is bad is bad whatever is wrong": {[]Picture{judged(record.Seam, record.DoesNotConform, 20), cut}, false},
	} {
		t.Run(name, func(t *testing.T) {
			crimp := Crimp{Pictures: c.pictures}
			crimp.Settle(true)
			assert.Equal(t, c.want, crimp.PutRight())
		})
	}
}
