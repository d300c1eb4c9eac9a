package elsewhere

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

// TestKeys: each has its unit, and those that no picture yields are no measurands of a view.
func TestKeys(t *testing.T) {
	want := map[record.Key]string{"crimp_height": "mm", "crimp_width": "mm", "pull_out_force": "N", "contact_resistance": "mohm", "torque": "N m"}
	assert.Len(t, Keys(), len(want))
	for _, key := range Keys() {
		assert.Equal(t, want[key], Unit(key), key)
		assert.True(t, Known(key))
		assert.Equal(t, key == record.CrimpHeight || key == record.CrimpWidth, key.Known(), "%s as a measurand of a view", key)
	}
	assert.False(t, Known("bend"))
	assert.Empty(t, Unit("bend"))
	Keys()[0] = "spoilt"
	assert.Equal(t, record.CrimpHeight, Keys()[0], "the list is the caller's own")
}
