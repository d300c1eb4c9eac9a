package terminal

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
)

// TestLongNamesAreShortInTables: what is left tells names apart that differ at either end.
func TestLongNamesAreShortInTables(t *testing.T) {
	assert.Equal(t, "north-03 / 7", shortName("north-03 / 7"))
	assert.Equal(t, strings.Repeat("ü", mostName), shortName(strings.Repeat("ü", mostName)))
	long := "ferry terminal / " + strings.Repeat("é", 170) + " / crimp 12"
	got := shortName(long)
	assert.Equal(t, mostName, utf8.RuneCountInString(got))
	assert.True(t, strings.HasPrefix(got, "ferry terminal / "))
	assert.True(t, strings.HasSuffix(got, "… / crimp 12") || strings.HasSuffix(got, "é / crimp 12"), got)
	assert.NotEqual(t, got, shortName(long+"3"))
}
