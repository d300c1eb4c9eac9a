package wording

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		value, u      float64
		wantV, wantU  string
		whereItIsFrom string
	}{
		{10.057622, 0.0270, "10.058", "0.027", "JCGM 100:2008, 7.2.6 (10.057 62 ohm with u = 27 milliohm becomes 10.058 ohm), from memory"},
		{0.8213, 0.0418, "0.821", "0.042", "two digits of u"},
		{0.8213, 0.0996, "0.82", "0.10", "rounding lifts u into the next decade"},
		{12.34, 1.26, "12.3", "1.3", ""},
		{123.4, 12.6, "123", "13", ""},
		{1234, 126, "1234", "126", "no decimals to take away"},
		{-0.0001, 0.05, "0.000", "0.050", "a zero has no sign"},
		{0, 0, "0", "0", "a count"},
		{3, 0, "3", "0", "a count"},
		{84, 2, "84", "2", "a count of which two may be wrong"},
		{84, 1.5, "84.0", "1.5", ""},
		{0.5, 0, "0.5", "0", "an exact ratio"},
		{1, 1e-9, "1.000000", "0.000000", "never more than six decimals"},
		{2, math.NaN(), "2", "NaN", "a broken u is shown as broken"},
	} {
		v, u := Number(c.value, c.u)
		assert.Equal(t, c.wantV, v, "value of %v ± %v", c.value, c.u)
		assert.Equal(t, c.wantU, u, "u of %v ± %v", c.value, c.u)
	}
}

// Rounding may hide at most half of u's second digit, of the value as of u.
func TestNumberLosesLittle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(-500, 500).Draw(t, "value")
		u := math.Pow(10, rapid.Float64Range(-4, 1.5).Draw(t, "log10 u"))
		vText, uText := Number(value, u)
		v, err := strconv.ParseFloat(vText, 64)
		require.NoError(t, err)
		if value == math.Trunc(value) && u == math.Trunc(u) {
			return // a count, which loses nothing
		}
		rounded, err := strconv.ParseFloat(uText, 64)
		require.NoError(t, err)
		assert.InDelta(t, value, v, 0.0501*u*1.01)
		assert.InDelta(t, u, rounded, 0.0501*u*1.01)
		digits := strings.TrimLeft(strings.ReplaceAll(uText, ".", ""), "0")
		assert.Len(t, digits, 2, "significant digits of %s", uText)
		assert.Equal(t, decimals(uText), decimals(vText))
	})
}

func decimals(text string) int {
	_, after, _ := strings.Cut(text, ".")
	return len(after)
}

func TestQuantity(t *testing.T) {
	assert.Equal(t, "0.820 ± 0.040 mm", Quantity(record.Value{Value: 0.82, U: 0.04, Unit: "mm"}))
	assert.Equal(t, "(1.2 ± 1.1)°", Quantity(record.Value{Value: 1.24, U: 1.1, Unit: "deg"}))
	assert.Equal(t, "2", Quantity(record.Value{Value: 2, U: 0, Unit: "1"}))
	assert.Equal(t, "0.971 ± 0.020", Quantity(record.Value{Value: 0.971, U: 0.02, Unit: "1"}))
}

func TestLimits(t *testing.T) {
	one, two := 0.95, 2.0
	assert.Equal(t, "at least 0.95", Limits(&one, nil))
	assert.Equal(t, "at most 2", Limits(nil, &two))
	assert.Equal(t, "0.95 to 2", Limits(&one, &two))
	assert.Equal(t, "exactly 2", Limits(&two, &two))
	assert.Empty(t, Limits(nil, nil))
}

func TestEveryKeyHasAnOwnNameAndGroup(t *testing.T) {
	for _, view := range []record.View{record.Seam, record.Side, record.Strip, record.Section} {
		seen := map[string]record.Key{}
		for _, key := range record.Keys(view) {
			name := Name(view, key)
			assert.NotContains(t, name, "_", key)
			assert.NotContains(t, seen, name)
			seen[name] = key
		}
		grouped := 0
		for _, g := range Groups(view, record.Keys(view)) {
			assert.NotEqual(t, "Other", g.Title)
			grouped += len(g.Keys)
		}
		assert.Equal(t, len(record.Keys(view)), grouped, view)
	}
	assert.Equal(t, []Group{{"Other", []record.Key{"later_measurand"}}}, Groups(record.Seam, []record.Key{"later_measurand"}))
	assert.Equal(t, "later measurand", Name(record.Seam, "later_measurand"))
}

func TestSmallAndPercent(t *testing.T) {
	assert.Equal(t, "0.0008", Small(0.0008, 0.0321))
	assert.Equal(t, "0.0321", Small(0.0321, 0.0321))
	assert.Equal(t, "12.3", Small(12.34, 56))
	assert.Equal(t, "0.000", Small(0, 0))
	assert.Equal(t, "78 %", Percent(0.777))
	assert.Equal(t, "<1 %", Percent(0.0049))
	assert.Equal(t, "1 %", Percent(0.005001))
	assert.Equal(t, "0 %", Percent(0))
	assert.Equal(t, "100 %", Percent(1))
}

func TestAreas(t *testing.T) {
	assert.Equal(t, "3.246 ± 0.031 mm²", Quantity(record.Value{Value: 3.2459, U: 0.031, Unit: "mm2"}))
	assert.Equal(t, "84 ± 2", Quantity(record.Value{Value: 84, U: 2, Unit: "1"}))
}

func TestElsewhere(t *testing.T) {
	assert.Equal(t, "324.0 ± 4.0 N", Quantity(record.Value{Value: 324, U: 4.0001, Unit: "N"}))
	assert.Equal(t, "0.350 ± 0.010 mΩ", Quantity(record.Value{Value: 0.35, U: 0.01, Unit: "mohm"}))
	assert.Equal(t, "2.50 ± 0.10 N m", Quantity(record.Value{Value: 2.5, U: 0.1, Unit: "N m"}))
	assert.Equal(t, "pull-out force", Name("", "pull_out_force"))
	assert.Equal(t, "crimp height", Name("", record.CrimpHeight))
}

func TestVoids(t *testing.T) {
	assert.Equal(t, "none seen", Voids(record.Voids{U: 0.001}))
	assert.Equal(t, "1, 0.0110 ± 0.0020 mm²", Voids(record.Voids{Count: 1, AreaMM2: 0.011, U: 0.002, LargestMM2: 0.011}))
}

func TestCleanDisarmsControlCharacters(t *testing.T) {
	assert.Equal(t, `bucht "3" \x1b[2J\n.jpg`, Clean("bucht \"3\" \x1b[2J\n.jpg"))
	assert.Equal(t, "Fähre 船.jpg", Clean("Fähre 船.jpg"))
	assert.Equal(t, `a\xff`, Clean("a\xff"))
	assert.Equal(t, `a\b`, Clean(`a\b`))
}

// TestCell: the cells that spreadsheets take for formulas (common practice: = + - @, tab and carriage return in
// front, and their full-width forms).
func TestCell(t *testing.T) {
	for text, want := range map[string]string{
		"=1+2": "'=1+2", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": `\tx`, "\rx": `\rx`, "＝x": "'＝x", "a=1": "a=1", "": "", "'x": "'x",
		"a\nb": `a\nb`,
	} {
		assert.Equal(t, want, Cell(text))
	}
}
