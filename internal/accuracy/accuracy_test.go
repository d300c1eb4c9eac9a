package accuracy

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision"
	"crimprule/vision/record"
)

// invented is a case of the seam view whose sleeve is 6 mm long and which has one stray strand.
func invented(name string) Case {
	return Case{Set: "rendered", Picture: "a/" + name, Request: vision.Request{View: record.Seam, Scales: []vision.ScaleOption{{Kind: "rule", LengthMM: 1}}},
		Truth: map[record.Key]float64{record.SleeveLength: 6, record.StrayCount: 1, record.Bend: 2}}
}

func measured(length, u, strays float64) record.Record {
	rec := record.New(record.Seam)
	rec.SHA256 = "0"
	rec.Set(record.SleeveLength, length, u)
	rec.Set(record.StrayCount, strays, 0)
	return rec
}

// TestFigures is worked out by hand: errors +0.3, -0.1, +0.1 and -0.5 mm have the mean -0.05 and the root mean square
// sqrt((0.09 + 0.01 + 0.01 + 0.25)/4) = 0.3; with u = 0.2, 0.1, 0.3, 0.4 the second and third lie within it, and the median is 0.25.
func TestFigures(t *testing.T) {
	var tables Tables
	for _, c := range [][3]float64{{6.3, 0.2, 1}, {5.9, 0.1, 1}, {6.1, 0.3, 0}, {5.5, 0.4, 1}} {
		tables.Add(invented("x.jpg"), measured(c[0], c[1], c[2]))
	}
	of := Of{record.Seam, "rendered"}
	f := tables.Figures(of, record.SleeveLength)
	require.NotNil(t, f)
	assert.InDelta(t, -0.05, f.Bias, 1e-12)
	assert.InDelta(t, 0.3, f.RMS, 1e-12)
	assert.InDelta(t, 0.5, f.Cover, 1e-12)
	assert.InDelta(t, 0.25, f.U, 1e-12)
	assert.Equal(t, Figures{Known: 4, Got: 4, Bias: -0.25, RMS: 0.5, Cover: 0.75, Exact: 3}, *tables.Figures(of, record.StrayCount))
	assert.Equal(t, Figures{Known: 4}, *tables.Figures(of, record.Bend), "in the truth, never measured")
	assert.Nil(t, tables.Figures(of, record.SeamAngle), "not in the truth")
	assert.True(t, tables.Has("0"))
	assert.False(t, tables.Has("1"))
}

// TestMarkdown: views without pictures are left out, sets stand apart, and refusals are told.
func TestMarkdown(t *testing.T) {
	var tables Tables
	tables.Add(invented("a.jpg"), measured(6.3, 0.2, 1))
	refused := record.New(record.Seam)
	refused.Refuse("too dark")
	tables.Add(invented("b.jpg"), refused)
	bad := invented("c.jpg")
	bad.Refuse = "out of focus"
	tables.Add(bad, refused)
	tables.Add(bad, measured(6, 0.1, 1))
	drawn := invented("d.jpg")
	drawn.Set = "drawn"
	tables.Add(drawn, measured(5.99999, 0.1, 1))
	assert.Equal(t, `**Seam, drawn**: 1 to be measured (rule 1), 0 of them wrongly refused.

| measurand | got | bias | rms | cover | u |
|---|---|---|---|---|---|
| `+"`stray_count`"+` | 1 of 1 | +0.000 | 0.000 | 1.00 | 0.000 |
| `+"`sleeve_length`"+` | 1 of 1 | +0.000 | 0.000 | 1.00 | 0.100 |
| `+"`bend`"+` | 0 of 1 | | | | |

Exact: `+"`stray_count`"+` in 1 of 1.

**Seam, rendered**: 2 to be measured (rule 2), 1 of them wrongly refused; 2 to be refused, 1 of them rightly are.

| measurand | got | bias | rms | cover | u |
|---|---|---|---|---|---|
| `+"`stray_count`"+` | 1 of 2 | +0.000 | 0.000 | 1.00 | 0.000 |
| `+"`sleeve_length`"+` | 1 of 2 | +0.300 | 0.300 | 0.00 | 0.200 |
| `+"`bend`"+` | 0 of 2 | | | | |

Exact: `+"`stray_count`"+` in 1 of 1.
`, tables.Markdown(record.Seam, record.Side))
	assert.Empty(t, tables.Markdown(record.Section, record.Strip))
	assert.Equal(t, []string{"seam, rendered, wrongly refused: b.jpg (too dark)", "seam, rendered, not refused: c.jpg (out of focus)"}, tables.Complaints())
}

func TestRewrite(t *testing.T) {
	const document = "a\n<!-- x:begin -->\nold\nlines\n<!-- x:end -->\nb\n"
	got, err := Rewrite(document, "x", "new\n\n")
	require.NoError(t, err)
	assert.Equal(t, "a\n<!-- x:begin -->\nnew\n<!-- x:end -->\nb\n", got)
	again, err := Rewrite(got, "x", "new")
	require.NoError(t, err)
	assert.Equal(t, got, again)
	for name, broken := range map[string]string{"none": "a\n", "no end": "<!-- x:begin -->\n", "two": document + document} {
		_, err := Rewrite(broken, "x", "new")
		assert.ErrorContains(t, err, "<!-- x:begin -->", name)
	}
}

// TestLoad reads the project's own truth files, and tells what is wrong with others.
func TestLoad(t *testing.T) {
	cases, err := Load("drawn", "../../testdata/drawn", "../../samples")
	require.NoError(t, err)
	require.NotEmpty(t, cases)
	for _, c := range cases {
		assert.FileExists(t, c.Picture)
		assert.Equal(t, "drawn", c.Set)
		assert.NotEmpty(t, c.Request.Scales)
		assert.Positive(t, c.Request.Declared.StrandDiameter)
		assert.NotEqual(t, c.Refuse == "", len(c.Truth) == 0, "truth, or why it must be refused")
	}
	sections, err := Load("rendered", "../../testdata/section")
	require.NoError(t, err)
	assert.Equal(t, record.Section, sections[0].Request.View)

	for text, want := range map[string]string{
		`{`:                                 "no truth file",
		`{"image": "a.jpg", "view": "top"}`: `view "top" is none that is measured`,
		`{"image": "a.jpg", "view": "seam", "scale_option": "ruler=1mm"}`: "did you mean rule",
		`{"image": "a.jpg", "view": "seam"}`:                              `its picture "a.jpg" is in none of`,
	} {
		folder := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(folder, "a.json"), []byte(text), 0o600))
		_, err := Load("rendered", folder)
		assert.ErrorContains(t, err, want)
		assert.ErrorContains(t, err, "a.json")
	}
	_, err = Load("rendered", t.TempDir())
	assert.ErrorContains(t, err, "holds no truth files")
}
