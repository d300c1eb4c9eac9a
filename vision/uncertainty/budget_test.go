package uncertainty

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// endGauge is the worked example of JCGM 100:2008, annex H.1 (inputs and answers from memory): the length of an end
// gauge of 50 mm, in nanometres.
var endGauge = Budget{
	{"reference", "calibration certificate of the reference gauge", 25},
	{"difference", "comparator readings", 9.7},
	{"expansion", "difference of the expansion coefficients", 2.9},
	{"temperature", "difference of the two temperatures", 16.6},
}

func TestEndGauge(t *testing.T) {
	assert.InDelta(t, 31.67, endGauge.Standard(), 0.005, "published, rounded: 32 nm")
	assert.InDelta(t, 63.34, endGauge.Expanded(), 0.01, "k = 2")

	secondOrder := append(Budget{{"expansion, second order", "H.1.7", 11.7}, {"temperature, second order", "H.1.7", 1.7}}, endGauge...)
	assert.InDelta(t, 33.8, secondOrder.Standard(), 0.05, "published, rounded: 34 nm")
}

// TestShares works the parts of the end gauge's variance out from the published components: 25²/31.67² = 0.623 and so on.
func TestShares(t *testing.T) {
	shares := endGauge.Shares()
	want := []struct {
		name  string
		share float64
	}{{"reference", 0.623}, {"temperature", 0.275}, {"difference", 0.0938}, {"expansion", 0.00838}}
	require.Len(t, shares, len(want))
	sum := 0.0
	for i, w := range want {
		assert.Equal(t, w.name, shares[i].Name, "the largest first")
		assert.InDelta(t, w.share, shares[i].Share, 0.0005)
		sum += shares[i].Share
	}
	assert.InDelta(t, 1, sum, 1e-12)
	assert.Empty(t, Budget{{Name: "none", Standard: 0}}.Shares(), "what counts for nothing is left out")
	assert.InDelta(t, 2*endGauge.Standard(), endGauge.Scaled(-2).Standard(), 1e-12)
	assert.Equal(t, 25.0, endGauge[0].Standard, "the budget itself stays as it was")
}

func TestEmptyBudgetIsCertain(t *testing.T) {
	assert.Zero(t, Budget(nil).Standard())
	assert.Zero(t, Budget{}.Expanded())
}

// TestBudgetProperties: never below its largest component nor above their sum, whatever the order and the signs of
// the sensitivities.
func TestBudgetProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-100, 100), 1, 12).Draw(t, "standard uncertainties")
		for i, v := range values {
			if math.Abs(v) < 1e-6 { // squares of far smaller ones underflow, which no measurement knows
				values[i] = 0
			}
		}
		budget, turned := Budget{}, Budget{}
		largest, sum := 0.0, 0.0
		for i, v := range values {
			budget = append(budget, Component{Standard: v})
			turned = append(turned, Component{Standard: -values[len(values)-1-i]})
			largest, sum = max(largest, math.Abs(v)), sum+math.Abs(v)
		}
		u := budget.Standard()
		if u < largest*(1-1e-12) || u > sum*(1+1e-12) {
			t.Fatalf("%v lies outside %v .. %v", u, largest, sum)
		}
		if math.Abs(u-turned.Standard()) > 1e-9 {
			t.Fatalf("%v, turned %v", u, turned.Standard())
		}
	})
}
