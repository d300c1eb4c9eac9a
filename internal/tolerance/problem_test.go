package tolerance

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestCaretStandsUnderItsPlace, in long lines and behind tabs and control characters too.
func TestCaretStandsUnderItsPlace(t *testing.T) {
	for name, before := range map[string]string{
		"short": "a: ", "long": strings.Repeat("é, ", 100), "tab": "\ta: ", "escape": "a: \x1b[31m ",
	} {
		line := before + "HERE" + strings.Repeat(" and more", 50)
		column := len([]rune(before)) + 1
		text := Problem{Place: Place{"f.yaml", 3, column}, Excerpt: line, Message: "wrong", Hint: "right it"}.String()
		lines := strings.Split(text, "\n")
		assert.Len(t, lines, 4, name)
		caret := strings.Index(lines[2], "^")
		assert.Equal(t, "HERE", string([]rune(lines[1])[caret:caret+4]), name)
		assert.LessOrEqual(t, len([]rune(lines[1])), 110, name)
		assert.NotContains(t, text, "\x1b", name)
		assert.NotContains(t, text, "\t", name)
		assert.Equal(t, "  right it", lines[3], name)
	}
}

func TestPlacesOutsideTheLineDoNoHarm(t *testing.T) {
	for _, column := range []int{-5, 0, 1, 2, 3, 1000} {
		assert.NotPanics(t, func() {
			_ = Problem{Place: Place{"f.yaml", 1, column}, Excerpt: "ab", Message: "wrong"}.String()
		})
	}
}

func TestNearest(t *testing.T) {
	names := []string{"insulation_gap_max", "insulation_gap_mean", "bend", "min", "max"}
	for text, want := range map[string]string{
		"insulation gap max": "insulation_gap_max", "Insulation-Gap-Mean": "insulation_gap_mean", "insulation_gap_mx": "insulation_gap_max",
		"bent": "bend", "mim": "min", "colour": "", "": "", strings.Repeat("x", 10000): "",
	} {
		assert.Equal(t, want, nearest(text, names), text)
	}
}

func TestWrap(t *testing.T) {
	assert.Equal(t, "aa bb\ncc", wrap("aa bb cc", 5))
	assert.Equal(t, "", wrap("", 5))
}
