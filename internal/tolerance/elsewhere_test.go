package tolerance

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

func TestElsewhere(t *testing.T) {
	file, err := Parse("a.yaml", []byte(`limits: {bend: {max: 3 deg}}
elsewhere:
  pull_out_force: {min: 0.31 kN, note: by the drawing}
  contact_resistance: {max: 500 uohm, weight: 2}
  torque: {min: 250 N cm, max: 3.5 Nm, aim: 3 N m}
  crimp_height: {min: 2.15 mm, max: 2250 um}
`))
	require.NoError(t, err)
	assert.Equal(t, []Limit{
		{Key: elsewhere.PullOutForce, Min: ptr(310), Weight: 1, Note: "by the drawing"},
		{Key: elsewhere.ContactResistance, Max: ptr(0.5), Weight: 2},
		{Key: elsewhere.Torque, Min: ptr(2.5), Max: ptr(3.5), Aim: ptr(3), Weight: 1},
		{Key: record.CrimpHeight, Min: ptr(2.15), Max: ptr(2.25), Weight: 1},
	}, file.Elsewhere)
	assert.Len(t, file.Limits, 1, "what is measured elsewhere is no limit of a picture")

	plain, err := Parse("a.yaml", []byte("limits: {bend: {max: 3 deg}}"))
	require.NoError(t, err)
	assert.Empty(t, plain.Elsewhere)
}

// TestSizesOfTheExample: the sizes that the example names are those of IEC 60352-2, table of the 2006 edition, written
// down from memory once more; in the file they stand in a comment.
func TestSizesOfTheExample(t *testing.T) {
	file, err := Parse("a.yaml", []byte(Example(record.Seam)))
	require.NoError(t, err)
	require.Len(t, file.Elsewhere, 1)
	assert.Equal(t, 310.0, *file.Elsewhere[0].Min, "4 mm2")
	for _, size := range []string{"0.5 mm2 60 N", "0.75 mm2 85 N", "1 mm2 108 N", "1.5 mm2 150 N", "2.5 mm2 230 N", "6 mm2 360 N", "10 mm2 380 N"} {
		assert.Contains(t, Example(record.Seam), size)
		assert.Contains(t, Example(record.Section), size)
	}
}

func TestParseElsewhere(t *testing.T) {
	key, value, err := ParseElsewhere("pull_out_force", "0.324 kN", "4 N")
	require.NoError(t, err)
	assert.Equal(t, elsewhere.PullOutForce, key)
	assert.Equal(t, record.Value{Value: 324, U: 4, Unit: "N"}, value)
	_, value, err = ParseElsewhere("contact_resistance", "350 µΩ", "0.01 mΩ")
	require.NoError(t, err)
	assert.Equal(t, record.Value{Value: 0.35, U: 0.01, Unit: "mohm"}, value)
	for _, unit := range []string{"uohm", "µohm", "μohm", "µΩ", "μΩ"} {
		_, value, err = ParseElsewhere("contact_resistance", "350"+unit, "10"+unit)
		require.NoError(t, err)
		assert.Equal(t, record.Value{Value: 0.35, U: 0.01, Unit: "mohm"}, value, unit)
	}
	for _, c := range [][]string{{"crimp_height", "0.001mm", "0.2mm", "30mm"}, {"pull_out_force", "0.1N", "1N", "20kN"}, {"contact_resistance", "0.1uohm", "1uohm", "100mohm"},
		{"torque", "0.001Nm", "0.01Nm", "100Nm"}} {
		for _, end := range c[2:] {
			_, _, err = ParseElsewhere(c[0], end, c[1])
			assert.NoError(t, err, "%s %s", c[0], end)
		}
	}
	for _, unit := range []string{"Ω", "\u2126", "ohm"} {
		_, value, err = ParseElsewhere("contact_resistance", "0.0003"+unit, "0.01mohm")
		require.NoError(t, err)
		assert.Equal(t, record.Value{Value: 0.3, U: 0.01, Unit: "mohm"}, value, unit)
	}
	_, value, err = ParseElsewhere("torque", "3400Nmm", "100 N mm")
	require.NoError(t, err)
	assert.Equal(t, record.Value{Value: 3.4, U: 0.1, Unit: "N m"}, value)
	_, _, err = ParseElsewhere("contact_resistance", "3 V", "1 V")
	assert.ErrorContains(t, err, "one of: mohm, mΩ, uohm, µohm, µΩ, uΩ, ohm, Ω", "no two that look alike")
	_, value, err = ParseElsewhere("torque", "2.5N m", "0.1N m")
	require.NoError(t, err)
	assert.Equal(t, record.Value{Value: 2.5, U: 0.1, Unit: "N m"}, value)

	for _, c := range []struct{ key, value, u, want string }{
		{"pull out force", "324 N", "4 N", `"pull out force": unknown name "pull out force"; did you mean pull_out_force?`},
		{"bend", "3 deg", "1 deg", `unknown name "bend"; allowed here: crimp_height, crimp_width, pull_out_force, contact_resistance, torque`},
		{"pull_out_force", "324", "4 N", `"pull_out_force = 324": "324" lacks its unit; a force is written with its unit: 324 N`},
		{"pull_out_force", "-324 N", "4 N", "impossible here; it must lie between 0 and 100000 N"},
		{"pull_out_force", "324 N", " ", "its uncertainty is missing"},
		{"pull_out_force", "324 N", "0 N", "an uncertainty of 0 is none"},
		{"pull_out_force", "324 N", "1 %", `uncertainty of pull_out_force = 1 %": "%" is no unit of a force; write a force in one of: N, kN`},
		{"crimp_height", "2,21 mm", "0.01 mm", "decimal comma"},
		{"crimp_height", "211mm", "0.01mm", `"crimp_height = 211mm": "211mm" is `}, // how, a limit's own range or the usual one tells
		{"crimp_height", "35 mm", "0.01 mm", `"35 mm" is 35 mm, and crimps have values between 0.2 and 30 mm; check the unit and the decimal point of the value`},
		{"crimp_width", "0.1 mm", "0.01 mm", "between 0.2 and 30 mm"},
		{"pull_out_force", "32 kN", "5 N", `"32 kN" is 32000 N, and crimps have values between 1 and 20000 N`},
		{"contact_resistance", "300 mohm", "20 mohm", "between 0.001 and 100 mohm"},
		{"torque", "250 N m", "1 N m", "between 0.01 and 100 N m"},
		{"pull_out_force", "5 N", "320 N", `"pull_out_force = 5 N": its uncertainty "320 N" is not smaller than the value itself; check the unit and the decimal point of both`},
		{"contact_resistance", "300 µohm", "300 uohm", "is not smaller than the value itself"},
	} {
		_, _, err := ParseElsewhere(c.key, c.value, c.u)
		assert.ErrorContains(t, err, c.want, "%+v", c)
	}
}
