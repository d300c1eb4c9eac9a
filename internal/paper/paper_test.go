package paper

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWrapKeepsEveryCharacter: parted lines put together are the text again, and each is narrow enough.
func TestWrapKeepsEveryCharacter(t *testing.T) {
	s := New(Head{})
	s.AddPage()
	in := Style{Face: Regular, Size: 7.8}
	s.Font(in.Face, in.Size)
	for _, text := range []string{"", "one", "gap 0.82\u00a0±\u00a00.04\u00a0mm; and more of the same kind", strings.Repeat("x", 300), "ä " + strings.Repeat("Ж", 90)} {
		lines := s.Wrap(in, text, 30)
		for _, line := range lines {
			assert.LessOrEqual(t, s.Measure(in, line), 30.0)
			assert.InDelta(t, s.GetStringWidth(line), s.Measure(in, line), 0.01, "as the library has it")
		}
		assert.Equal(t, strings.ReplaceAll(text, " ", ""), strings.ReplaceAll(strings.Join(lines, ""), " ", ""))
	}
	assert.Equal(t, []string{"gap", "0.82\u00a0±\u00a00.04\u00a0mm"}, s.Wrap(in, "gap 0.82\u00a0±\u00a00.04\u00a0mm", 22), "a value stays in one piece")
}

// TestFit: what the typeface lacks is written as its number, so that names stay apart, and the document says so at its end.
func TestFit(t *testing.T) {
	for text, told := range map[string]bool{"Übergang ± 0.5 mm²\n": false, "crimp \u4e2d": true, "\U0001f600": true} {
		s := New(Head{Title: "t", Program: "p", Foot: "f"})
		s.SetCompression(false)
		s.AddPage()
		s.Paragraph(Regular, Body, text)
		assert.Equal(t, told, strings.Contains(s.Fit(Regular, text), `\u`), "%q", text)
		assert.Equal(t, s.Fit(Regular, text), s.Fit(Regular, s.Fit(Regular, text)))
		var with, without bytes.Buffer
		require.NoError(t, s.End(&with, "another file has"))
		s = New(Head{Title: "t", Program: "p", Foot: "f"})
		s.SetCompression(false)
		s.AddPage()
		s.Paragraph(Regular, Body, strings.Map(func(r rune) rune {
			if r > 0x2000 {
				return 'x'
			}
			return r
		}, text))
		require.NoError(t, s.End(&without, "another file has"))
		assert.Equal(t, told, strings.Count(with.String(), "BT ") > strings.Count(without.String(), "BT "), "%q", text)
	}
}

// TestNamesStayApart: numbers of characters as in the charts of the Unicode standard.
func TestNamesStayApart(t *testing.T) {
	s := New(Head{})
	assert.Equal(t, `\u65e5\u672c 1`, s.Fit(Regular, "日本 1"))
	assert.Equal(t, `\u{1f600}`, s.Fit(Bold, "😀"))
	assert.NotEqual(t, s.Fit(Regular, "東西"), s.Fit(Regular, "南北"))
}

// TestAgain: the same document is the same to the byte, whenever it is written.
func TestAgain(t *testing.T) {
	write := func() []byte {
		s := New(Head{Title: "t", Program: "p", Foot: strings.Repeat("a long foot ", 40)})
		s.AddPage()
		s.Heading("Heading")
		s.Pair(30, "name", "text")
		s.Room(Height)
		s.Paragraph(Bold, Body, "on the second page")
		var b bytes.Buffer
		require.NoError(t, s.End(&b, ""))
		assert.Equal(t, 2, s.PageNo())
		return b.Bytes()
	}
	first := write()
	time.Sleep(1100 * time.Millisecond) // the format has whole seconds
	assert.Equal(t, first, write())
}
