package scan

import (
	"cmp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

func TestPattern(t *testing.T) {
	for _, c := range []struct {
		pattern, file string
		want          site.Label
		view          record.View
		note          string
	}{
		{"{string}_{crimp}_{view}", "north-03_07_seam.jpg", site.Label{String: "north-03", Crimp: "07"}, record.Seam, ""},
		{"{string}_{crimp}_{view}", "in/a_folder/north-03_07_Side.JPG", site.Label{String: "north-03", Crimp: "07"}, record.Side, ""},
		{"{string}_{crimp}_{view}", "north_03_07_seam.jpg", site.Label{}, "", "its name fits the pattern {string}_{crimp}_{view} in more than one way, so that it tells nothing"},
		{"{string}_{crimp}_{view}", "north_07_top.jpg", site.Label{}, "", `its name fits the pattern {string}_{crimp}_{view}, but "top" is no view: seam, side, strip, section or auto`},
		{"{string}_{crimp}_{view}", "IMG_0001.jpg", site.Label{}, "", "its name does not fit the pattern {string}_{crimp}_{view}"},
		{"{crimp}_{view}", "north_03_seam.jpg", site.Label{Crimp: "north_03"}, record.Seam, ""}, // the only way in which the view is one
		{"{crew}/{tool}/{date} {crimp}", "A/T1/20260504 7.jpg", site.Label{Crew: "A", Tool: "T1", Date: "2026-05-04", Crimp: "7"}, "", ""},
		{"{crew}/{tool}/{date} {crimp}", "A/T1/2026-13-04 7.jpg", site.Label{}, "", `its name fits the pattern {crew}/{tool}/{date} {crimp}, but "2026-13-04" is no date such as 2026-05-04`},
		{"{trainee}/{crimp}", "workshop/trainee 3/1.jpg", site.Label{}, "", "its name does not fit the pattern {trainee}/{crimp}"},
		{"{}/{trainee}/{crimp}", "site/workshop/trainee 3/1.jpg", site.Label{Trainee: "trainee 3", Crimp: "1"}, "", ""},
		{"IMG_{}_{crimp}", "IMG_20260504_7.jpg", site.Label{Crimp: "7"}, "", ""},
		{"{}_{crimp}_{}", "a_b_c_b_d.jpg", site.Label{}, "", "its name fits the pattern {}_{crimp}_{} in more than one way, so that it tells nothing"},
		{"{}-{}_{crimp}", "a-b-c_1.jpg", site.Label{Crimp: "1"}, "", ""}, // several ways, one crimp
		{"crimp {crimp}", "crimp \xff\n<b>.jpg", site.Label{Crimp: "\xff <b>"}, "", ""},
		{"{crimp}", strings.Repeat("ä", 201) + ".jpg", site.Label{}, "", "its name fits the pattern {crimp}, but its crimp has 201 characters, more than the 200 that it may have"},
		{"{crimp}", strings.Repeat("a", 1001) + ".jpg", site.Label{}, "", "its name has more than 1000 bytes and was not held against the pattern {crimp}"},
	} {
		p, err := parsePattern(c.pattern)
		require.NoError(t, err)
		f := Found{File: c.file, Origin: site.Alone}
		p.label(&f)
		c.want.Note = c.note
		assert.Equal(t, c.want, f.Label, c.file)
		assert.Equal(t, c.view, f.View, c.file)
		assert.Equal(t, c.note != "", f.Origin == site.Alone, c.file)
	}
}

func TestThePatternFillsWhatTheManifestLeavesOpen(t *testing.T) {
	dir := withManifest(t, "file,crimp,crew,view\n1_2.jpg,,A,side\n3_4.jpg,9,,\n", "1_2.jpg", "3_4.jpg")
	l := find(t, FindOptions{Pattern: "{string}_{crimp}"}, dir)
	assert.Equal(t, site.Label{String: "1", Crimp: "2", Crew: "A"}, l.Files[0].Label)
	assert.Equal(t, site.FromName, l.Files[0].Origin, "a tag that says something else counts more, and is a doubt")
	l = find(t, FindOptions{Pattern: "{string}_{crimp}", Assumed: true}, dir)
	assert.Equal(t, site.Assumed, l.Files[0].Origin, "so that a tag in the picture is no doubt")
	assert.Equal(t, record.Side, l.Files[0].View)
	assert.Equal(t, site.Label{Crimp: "9"}, l.Files[1].Label)
	assert.Equal(t, site.FromManifest, l.Files[1].Origin)
}

func TestPatternsThatAreWrong(t *testing.T) {
	for pattern, want := range map[string]string{
		"crimps":                 "it has no {crimp}, so that no crimp could be told from another; write, for example, {string}_{crimp}_{view}",
		"{string}{crimp}":        "nothing stands between {string} and {crimp}, so that nobody can tell where one ends",
		"{crimp}{}":              "nothing stands between {crimp} and {}",
		"{crmp}_{view}":          "unknown field {crmp}; did you mean crimp? allowed here: string, crimp, view, crew, tool, trainee, date, and {} for anything",
		"{crimp}_{crimp}":        "the field {crimp} is there twice; keep one of the two, and write {} for the other",
		"{crimp":                 `the '{' before "crimp" is not closed`,
		"{cri{mp}":               `the '{' before "cri{mp}" is not closed`,
		"crimp}":                 `a '}' closes nothing before "crimp}"`,
		"{crimp}.jpg":            `it ends in ".jpg", but names are held against it without their ending; take it out`,
		"{crimp}\xff":            "it is not UTF-8 text",
		strings.Repeat("a", 201): "it has 201 characters, more than the 200 that it may have",
	} {
		_, err := Find([]string{t.TempDir()}, FindOptions{Pattern: pattern})
		assert.ErrorContains(t, err, "pattern ")
		assert.ErrorContains(t, err, want)
	}
}

// What a pattern reads from a name is what the name was made from.
func TestPatternRoundTrip(t *testing.T) {
	p, err := parsePattern("{string}_{crimp}_{view}")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		word := fileNames().Filter(func(s string) bool { return !strings.ContainsAny(s, "_/") })
		str, crimp := word.Draw(t, "string"), word.Draw(t, "crimp")
		f := Found{File: str + "_" + crimp + "_section.tif"}
		p.label(&f)
		assert.Equal(t, site.Label{String: cmp.Or(plain(str), str), Crimp: cmp.Or(plain(crimp), crimp)}, f.Label)
		assert.Equal(t, record.Section, f.View)
	})
}

func FuzzPattern(f *testing.F) {
	f.Add("{string}_{crimp}_{view}", "north_1_seam.jpg")
	f.Add("{}/{crew}-{tool}/{crimp}{", "a/b-c/1.jpg")
	f.Add("{crimp} {date}", "7 20260504.jpg")
	f.Fuzz(func(t *testing.T, text, name string) {
		p, err := parsePattern(text)
		if err != nil || p == nil {
			return
		}
		found := Found{File: name, Origin: site.Alone}
		p.label(&found)
		if found.Origin == site.FromName {
			assert.NotEmpty(t, found.Label.Crimp)
		} else {
			assert.NotEmpty(t, found.Label.Note)
		}
	})
}
