package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestChance(t *testing.T) {
	for v, want := range map[float64]string{0: "0.0 %", 1: "100.0 %", 0.0001: "<0.1 %", 0.99999: ">99.9 %", 0.9534: "95.3 %"} {
		assert.Equal(t, want, Chance(v))
	}
	assert.Equal(t, "1.0", AQL(1))
	assert.Equal(t, "0.65", AQL(0.65))
}
