package tolerance

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

func TestParseDeclare(t *testing.T) {
	for text, want := range map[string]record.Declared{
		"strand_count=56":              {StrandCount: 56},
		"strand_diameter=0.3mm":        {StrandDiameter: 0.3},
		" strand_diameter = 300 um ":   {StrandDiameter: 0.3},
		"conductor_area=4mm2":          {ConductorArea: 4},
		"conductor_area=4 mm²":         {ConductorArea: 4},
		"insulation_diameter=5.9mm":    {InsulationDiameter: 5.9},
		"sheet_thickness=.7mm":         {SheetThickness: 0.7},
		"insulation_diameter=5.90e0mm": {InsulationDiameter: 5.9},
	} {
		d, err := ParseDeclare(text)
		require.NoError(t, err, text)
		got := record.Declared{}
		d.Apply(&got)
		assert.InDeltaSlice(t, numbers(want), numbers(got), 1e-12, text)
	}
}

func numbers(d record.Declared) []float64 {
	return []float64{d.ConductorArea, d.StrandCount, d.StrandDiameter, d.InsulationDiameter, d.SheetThickness}
}

func TestApplyKeepsTheRest(t *testing.T) {
	got := record.Declared{StrandCount: 56, StrandDiameter: 0.25}
	Declaration{Key: "strand_diameter", Value: 0.3}.Apply(&got)
	assert.Equal(t, record.Declared{StrandCount: 56, StrandDiameter: 0.3}, got)
}

func TestParseDeclareErrors(t *testing.T) {
	for text, want := range map[string]string{
		"strand_count": `"strand_count": there is no '=' in it; write a name, '=' and a value, for example strand_diameter=0.3mm`,
		"strand-count=56": `"strand-count=56": unknown name "strand-count"; did you mean strand_count? ` +
			`allowed here: conductor_area, strand_count, strand_diameter, insulation_diameter, sheet_thickness`,
		"strand_count=":           `"strand_count=": nothing stands after the '='; write a value there, for example strand_diameter=0.3mm`,
		"strand_count=0":          `"strand_count=0": "0" is impossible here; it must lie between 1 and 10000`,
		"strand_count=-3":         `"strand_count=-3": "-3" is impossible here; it must lie between 1 and 10000`,
		"strand_count=5.5":        `"strand_count=5.5": "5.5" is no whole number; counts are whole: write 0, 1, 2 ...`,
		"strand_count=56mm":       `"strand_count=56mm": unit "mm" does not belong here; a count is written without a unit: 56`,
		"strand_diameter=0.3":     `"strand_diameter=0.3": "0.3" lacks its unit; a length is written with its unit: 0.3 mm`,
		"strand_diameter=1,000um": `"strand_diameter=1,000um": "1,000um" has a comma that may part thousands or decimals; write 1000um or 1.000um, whichever is meant`,
		"strand_diameter=0,3mm":   `"strand_diameter=0,3mm": "0,3mm" has a decimal comma; write a decimal point: 0.3mm`,
		"strand_diameter=0.3mm2":  `"strand_diameter=0.3mm2": "mm2" is no unit of a length; write a length in one of: mm, um, µm`,
		"strand_diameter=300mm":   `"strand_diameter=300mm": "300mm" is impossible here; it must lie between 0.02 and 10 mm`,
		"conductor_area=4mm":      `"conductor_area=4mm": "mm" is no unit of an area; write an area in one of: mm2, mm²`,
		"strand_diameter=NaN":     `"strand_diameter=NaN": "NaN" is no number; write a length, such as 0.3 mm`,
		"sheet_thickness=1e999mm": `"sheet_thickness=1e999mm": "1e999mm" is larger than any number that can be used here; write a length, such as 0.3 mm`,
	} {
		_, err := ParseDeclare(text)
		assert.EqualError(t, err, want, text)
	}
}

func TestParseScale(t *testing.T) {
	for text, want := range map[string]Scale{ // the contract's own examples, and other ways to write them
		"chessboard=5mm":      {"chessboard", 5, 0.5, "mm"},
		"rule=1mm":            {"rule", 1, 0.5, "mm"},
		"disc=20.0mm":         {"disc", 20, 0.05, "mm"},
		"bar=500um":           {"bar", 0.5, 0.0005, "mm"},
		"bar=500 µm":          {"bar", 0.5, 0.0005, "mm"},
		"known=2.05um/px":     {"known", 0.00205, 0.000005, "mm/px"},
		"known=2.050um/px":    {"known", 0.00205, 0.0000005, "mm/px"},
		"known=2.um/px":       {"known", 0.002, 0.0005, "mm/px"},
		"known=.00205mm/px":   {"known", 0.00205, 0.000005, "mm/px"},
		"known=2.05e-3 mm/px": {"known", 0.00205, 0.000005, "mm/px"},
		"known=20.5E-1um/px":  {"known", 0.00205, 0.000005, "mm/px"},
	} {
		got, err := ParseScale(text)
		require.NoError(t, err, text)
		assert.Equal(t, want.Kind, got.Kind, text)
		assert.Equal(t, want.Unit, got.Unit, text)
		assert.InEpsilon(t, want.Value, got.Value, 1e-12, text)
		assert.InEpsilon(t, want.HalfDigit, got.HalfDigit, 1e-9, text)
	}
}

func TestParseScaleErrors(t *testing.T) {
	for text, want := range map[string]string{
		"chessbord=5mm":   `"chessbord=5mm": unknown name "chessbord"; did you mean chessboard? allowed here: chessboard, rule, disc, bar, known`,
		"chessboard=5":    `"chessboard=5": "5" lacks its unit; a length is written with its unit: 5 mm, for example chessboard=5mm`,
		"chessboard=0mm":  `"chessboard=0mm": "0mm" is impossible here; it must lie between 0.1 and 200 mm, for example chessboard=5mm`,
		"chessboard=-5mm": `"chessboard=-5mm": "-5mm" is impossible here; it must lie between 0.1 and 200 mm, for example chessboard=5mm`,
		"disc=9m":         `"disc=9m": "m" is no unit of a length; write a length in one of: mm, um, µm, for example disc=20mm`,
		"known=2.05um":    `"known=2.05um": "um" is no unit of a length per pixel; write a length per pixel in one of: mm/px, um/px, µm/px, for example known=2.05um/px`,
		"":                `"": there is no '=' in it; write a name, '=' and a value, for example chessboard=5mm`,
	} {
		_, err := ParseScale(text)
		assert.EqualError(t, err, want, text)
	}
}

// TestParseDeclareReadsWhatIsPrinted: a value in range, printed, is read back as it was; out of range it is refused.
func TestParseDeclareReadsWhatIsPrinted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-20, 20).Draw(t, "diameter")
		d, err := ParseDeclare("strand_diameter=" + short(v) + "mm")
		if v >= 0.02 && v <= 10 {
			if err != nil || d.Value != v {
				t.Fatalf("%v came back as %v, %v", v, d.Value, err)
			}
		} else if err == nil {
			t.Fatalf("%v was accepted", v)
		}
	})
}

// FuzzParseArguments: no text makes the two parsers of the command line panic, every refusal quotes and advises in one
// line, and whatever is accepted lies in its range.
func FuzzParseArguments(f *testing.F) {
	for _, seed := range []string{"strand_count=56", "conductor_area=4mm²", "chessboard=5mm", "known=2.05um/px", "=", "bar=1e308um", "disc=\xff"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ParseDeclare(text)
		if err == nil {
			s := partSpans[d.Key]
			require.True(t, d.Value >= s.low && d.Value <= s.high)
		} else {
			require.NotContains(t, err.Error(), "\n")
			require.Contains(t, err.Error(), "; ")
		}
		s, err := ParseScale(text)
		if err == nil {
			require.Positive(t, s.Value)
			require.GreaterOrEqual(t, s.HalfDigit, 0.)
			require.Contains(t, []string{"mm", "mm/px"}, s.Unit)
		} else {
			require.NotContains(t, err.Error(), "\n")
		}
	})
}
