package tolerance

import (
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

var update = flag.Bool("update", false, "write the golden files anew")

func ptr(v float64) *float64 { return &v }

func TestParse(t *testing.T) {
	text := "\ufeffname: canopy\r\nview: seam\r\nconfidence: 0.9\r\npart:\r\n  wire: 4 mm2 tinned\r\n  contact: pin 7\r\n" +
		"  conductor_area: 3.96 mm²\r\n  nominal_area: 4mm2\r\n  strand_count: 56\r\n  strand_diameter: 300 um\r\n" +
		"  insulation_diameter: 5.9 mm\r\n  sheet_thickness: 0.7 mm\r\nlimits:\r\n" +
		"  stray_count: {max: 0}\r\n  insulation_gap_max:\r\n    min: -250 µm\r\n    max: 1 mm\r\n    aim: 0.5 mm\r\n    weight: 2\r\n" +
		"    note: |\r\n      two lines\r\n      of text\r\n  bend: {max: 3°}\r\n"
	file, err := Parse("a.yaml", []byte(text))
	require.NoError(t, err)
	assert.Equal(t, File{
		Name: "canopy", View: record.Seam, Confidence: 0.9,
		Part: Part{
			Wire: "4 mm2 tinned", Contact: "pin 7", ConductorArea: 3.96, NominalArea: 4, StrandCount: 56,
			StrandDiameter: 0.3, InsulationDiameter: 5.9, SheetThickness: 0.7,
		},
		Limits: []Limit{
			{Key: record.StrayCount, Max: ptr(0), Weight: 1},
			{Key: record.InsulationGapMax, Min: ptr(-0.25), Max: ptr(1), Aim: ptr(0.5), Weight: 2, Note: "two lines\nof text"},
			{Key: record.Bend, Max: ptr(3), Weight: 1},
		},
	}, file)
	assert.Equal(t, record.Declared{
		ConductorArea: 3.96, StrandCount: 56, StrandDiameter: 0.3, InsulationDiameter: 5.9, SheetThickness: 0.7,
	}, file.Declared())
}

func TestParseNeedsNoMoreThanOneLimit(t *testing.T) {
	file, err := Parse("a.yaml", []byte("limits: {symmetry: {min: 0.9}}"))
	require.NoError(t, err)
	assert.Equal(t, DefaultConfidence, file.Confidence)
	assert.Equal(t, record.Declared{}, file.Declared())
}

func TestExamplesParse(t *testing.T) {
	for _, view := range measuredViews() {
		file, err := Parse("example.yaml", []byte(Example(view)))
		require.NoError(t, err)
		assert.NotEmpty(t, file.Name)
		assert.Equal(t, view, file.View)
		assert.Contains(t, Example(view), "ALL LIMITS BELOW ARE EXAMPLES")
		for _, limit := range file.Limits {
			assert.Contains(t, limit.Note, "example: ", "%s says that its limit is an example", limit.Key)
			assert.Contains(t, limit.Note, "no source", "%s says where its limit is from", limit.Key)
		}
		for _, limit := range file.Elsewhere {
			assert.Contains(t, limit.Note, "example: ", "%s says that its limit is an example", limit.Key)
			assert.Contains(t, limit.Note, "from memory, not re-read", "%s says where its limit is from", limit.Key)
		}
	}
	assert.Empty(t, Example(record.Auto))
}

// TestTheStripExampleLetsGoodWiresConform: it judges only what one picture can prove, since hidden strands are allowed for
// in cut_strands and strand_end_spread; what these are good for is told all the same.
func TestTheStripExampleLetsGoodWiresConform(t *testing.T) {
	file, err := Parse("example.yaml", []byte(Example(record.Strip)))
	require.NoError(t, err)
	keys := []record.Key{}
	for _, limit := range file.Limits {
		keys = append(keys, limit.Key)
	}
	assert.Equal(t, []record.Key{record.StripLength, record.Splay, record.InsulationCutAngle}, keys)
	for _, key := range []record.Key{record.CutStrands, record.StrandEndSpread} {
		assert.Contains(t, Example(record.Strip), "# "+string(key)+":")
	}
	whole := strings.NewReplacer("\n  # cut_strands:", "\n  cut_strands:", "\n  # strand_end_spread:", "\n  strand_end_spread:", "\n  #   ", "\n    ").Replace(Example(record.Strip))
	file, err = Parse("example.yaml", []byte(whole))
	require.NoError(t, err, "with the # taken away")
	assert.Len(t, file.Limits, 5)
}

// TestSectionExampleFollowsItsRules works the example's numbers out anew from the rules of thumb that it names (widespread
// practice, no source) and the part that it states.
func TestSectionExampleFollowsItsRules(t *testing.T) {
	file, err := Parse("example.yaml", []byte(Example(record.Section)))
	require.NoError(t, err)
	sheet, strand, n := file.Part.SheetThickness, file.Part.StrandDiameter, file.Part.StrandCount
	assert.InDelta(t, 3.9584, n*math.Pi/4*strand*strand, 5e-5, "56 x 0.30 mm; computed independently")
	assert.InDelta(t, 3.9584, file.Part.ConductorArea, 5e-4)
	assert.NotEqual(t, file.Part.NominalArea, file.Part.ConductorArea, "a nominal size is no metal area")
	want := map[record.Key][2]float64{ // lower and upper limit; NaN: none
		record.StrandCount: {n, n}, record.Compaction: {0.10, 0.25}, record.FloorThickness: {0.75 * sheet, math.NaN()},
		record.BurrHeightLeft: {math.NaN(), sheet}, record.BurrHeightRight: {math.NaN(), sheet},
		record.BurrWidthLeft: {math.NaN(), sheet / 2}, record.BurrWidthRight: {math.NaN(), sheet / 2},
		record.WingTipFloorLeft: {strand / 2, math.NaN()}, record.WingTipFloorRight: {strand / 2, math.NaN()},
		record.WingTipHeightDifference: {math.NaN(), sheet / 2},
	}
	for _, limit := range file.Limits {
		if bounds, ruled := want[limit.Key]; ruled {
			assertBound(t, bounds[0], limit.Min, limit.Key)
			assertBound(t, bounds[1], limit.Max, limit.Key)
			delete(want, limit.Key)
		}
	}
	assert.Empty(t, want, "rules without a limit")
}

func assertBound(t *testing.T, want float64, got *float64, key record.Key) {
	t.Helper()
	if math.IsNaN(want) {
		assert.Nil(t, got, key)
		return
	}
	require.NotNil(t, got, key)
	assert.InDelta(t, want, *got, 1e-9, key)
}

// TestSpansOfSections: what limits of a section may be.
func TestSpansOfSections(t *testing.T) {
	for text, want := range map[string]string{
		"compaction: {min: -0.05}":                   "", // more metal than the declared wire
		"compaction: {min: -1.5}":                    "impossible here",
		"strand_count: {min: 55.5}":                  "no whole number",
		"strand_count: {min: 0}":                     "impossible here",
		"conductor_area: {min: 3.1 mm2}":             "",
		"conductor_area: {min: 3.1 mm²}":             "",
		"conductor_area: {min: 3.1 mm}":              "no unit of an area",
		"conductor_area: {min: 3.1}":                 "lacks its unit",
		"void_ratio: {max: 5 %}":                     "is a percentage",
		"void_ratio: {min: 0.01}":                    "shuts out the best void_ratio that there is, 0",
		"burr_height_left: {min: 0.1 mm}":            "shuts out the best",
		"burr_width_right: {max: -10 um}":            "impossible here",
		"wing_opening: {min: 4 um}":                  "shuts out the best",
		"wing_tip_height_difference: {min: 1 mm}":    "shuts out the best",
		"crimp_height: {min: 2.15 mm, max: 2250 um}": "",
	} {
		_, err := Parse("a.yaml", []byte("view: section\nlimits: {"+text+"}\n"))
		if want == "" {
			assert.NoError(t, err, text)
			continue
		}
		assert.ErrorContains(t, err, want, text)
	}
	assert.True(t, Whole(record.StrandCount) && Whole(record.StrayCount))
	assert.False(t, Whole(record.Compaction) || Whole(record.ConductorArea))
}

// TestSpansOfStrips: what limits of a stripped wire may be. Its splay is a largest width over one of the widths, so at least 1.
func TestSpansOfStrips(t *testing.T) {
	for text, want := range map[string]string{
		"strip_length: {min: 7.5 mm, max: 8500 um}": "",
		"strip_length: {min: -1 mm}":                "impossible here",
		"strip_length: {max: 8}":                    "lacks its unit",
		"strand_end_spread: {max: 0.6 mm}":          "",
		"strand_end_spread: {min: 0.1 mm}":          "shuts out the best strand_end_spread that there is, 0",
		"cut_strands: {max: 4}":                     "",
		"cut_strands: {max: 0.5}":                   "no whole number",
		"cut_strands: {min: 1}":                     "shuts out the best",
		"splay: {max: 1.3}":                         "",
		"splay: {max: 0.9}":                         "impossible here",
		"splay: {min: 1.1}":                         "shuts out the best splay that there is, 1",
		"insulation_cut_angle: {max: 10 deg}":       "",
		"insulation_cut_angle: {max: 10 mm}":        "no unit of an angle",
		"brush_mean: {max: 1 mm}":                   "is not measured in the view strip that this file is for, but in seam or side",
	} {
		_, err := Parse("a.yaml", []byte("view: strip\nlimits: {"+text+"}\n"))
		if want == "" {
			assert.NoError(t, err, text)
			continue
		}
		assert.ErrorContains(t, err, want, text)
	}
	assert.True(t, Whole(record.CutStrands))
	assert.False(t, Whole(record.Splay))
}

// TestWrongFiles compares everything that a person reads with golden files; -update writes them anew.
func TestWrongFiles(t *testing.T) {
	paths, err := filepath.Glob("testdata/wrong/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		t.Run(filepath.Base(path), func(t *testing.T) {
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			_, err = Parse(filepath.Base(path), data)
			var told *Error
			require.ErrorAs(t, err, &told)
			golden := strings.TrimSuffix(path, ".yaml") + ".golden"
			if *update {
				require.NoError(t, os.WriteFile(golden, []byte(err.Error()+"\n"), 0o644))
			}
			want, readErr := os.ReadFile(golden)
			require.NoError(t, readErr)
			assert.Equal(t, string(want), err.Error()+"\n")
			for _, p := range told.Problems {
				assert.NotEmpty(t, p.Hint, "every problem says what to do: %s", p.Message)
			}
		})
	}
}

func TestParseRefusesWhatIsNoTolerancesFile(t *testing.T) {
	for name, data := range map[string]string{
		"too large": "limits: {}\n" + strings.Repeat("# x\n", maxBytes/4),
		"nested":    strings.Repeat("[", maxBraces+1),
		"nul":       "limits:\x00",
		"terminal":  "\x1b[2Jlimits: 1",
	} {
		_, err := Parse("a.yaml", []byte(data))
		var told *Error
		require.ErrorAs(t, err, &told, name)
		assert.Equal(t, "a.yaml", told.Problems[0].Place.File, name)
		assert.NotContains(t, err.Error(), "\x1b", "nothing in the file may steer the terminal")
	}
}

func TestLoad(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "ok.yaml")
	require.NoError(t, os.WriteFile(path, []byte(Example(record.Seam)), 0o600))
	_, err := Load(path)
	require.NoError(t, err)

	_, err = Load(filepath.Join(folder, "none.yaml"))
	assert.ErrorContains(t, err, "none.yaml")
	assert.ErrorContains(t, err, "does not exist: check the path")
	_, err = Load(folder)
	assert.ErrorContains(t, err, "is a folder: name the file in it")
}

// TestProblemsPointAtTheirLine: wherever a wrong unit stands, its line, column and caret do.
func TestProblemsPointAtTheirLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		above := rapid.IntRange(0, 30).Draw(t, "comment lines above")
		indent := rapid.IntRange(1, 12).Draw(t, "indent")
		text := strings.Repeat("# ö\n", above) + "limits:\n" + strings.Repeat(" ", indent) + "bend: {max: 3 stone}\n"
		_, err := Parse("a.yaml", []byte(text))
		var told *Error
		if !errors.As(err, &told) {
			t.Fatalf("no *Error: %v", err)
		}
		p := told.Problems[0]
		if p.Place.Line != above+2 || p.Place.Column != indent+13 {
			t.Fatalf("told line %d column %d for\n%s", p.Place.Line, p.Place.Column, text)
		}
		lines := strings.Split(p.String(), "\n")
		if got := lines[1][strings.Index(lines[2], "^"):]; got != "3 stone}" {
			t.Fatalf("the caret stands under %q", got)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, view := range measuredViews() {
		f.Add([]byte(Example(view)))
	}
	paths, _ := filepath.Glob("testdata/wrong/*.yaml")
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Parse("fuzz.yaml", data)
		if err != nil {
			var told *Error
			require.ErrorAs(t, err, &told)
			require.NotEmpty(t, err.Error())
			return
		}
		require.NotEmpty(t, file.Limits)
		require.True(t, file.Confidence > 0.5 && file.Confidence < 1)
		for _, limit := range file.Limits {
			require.True(t, limit.Key.Known() && limit.Weight > 0 && (limit.Min != nil || limit.Max != nil))
		}
		for _, limit := range file.Elsewhere {
			require.True(t, elsewhere.Known(limit.Key) && limit.Weight > 0 && (limit.Min != nil || limit.Max != nil))
		}
	})
}
