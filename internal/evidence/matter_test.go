package evidence

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// TestQuestionSuitsWhatIsAsked: nobody energises a section or a practice piece, and neither is made anew.
func TestQuestionSuitsWhatIsAsked(t *testing.T) {
	trainees := func(c site.Crimp) site.Crimp { c.Label.Trainee = "trainee 3"; return c }
	badCrimp, badSection, badStrip := sure(record.Seam, record.DoesNotConform, 0.5), sure(record.Section, record.DoesNotConform, 0.5), sure(record.Strip, record.DoesNotConform, 0.5)
	unread := site.Crimp{Pictures: []site.Picture{{Failure: "copy it again", Asked: record.Section}}}
	unread.Settle(true)
	for name, c := range map[string]struct {
		src            some
		question, head string
		do             string // of the first one
		chapter        string
		practice       bool
	}{
		"an installation": {some{badCrimp, badSection, sure(record.Seam, record.Conforms, 0.9)}, "May this be energised?",
			"Not on these pictures: 1 crimp must be made anew, 1 section does not conform.", "make anew with a new contact", "Does not conform: to be made anew: 1 crimp ", false},
		"a laboratory": {some{badSection, sure(record.Section, record.Conforms, 0.9), unread}, "Do these sections conform?",
			"Not all of them: 1 section does not conform, 1 was not measured for want of its file or of a declaration.", "hold back what this set-up made", "Does not conform: hold back what this set-up made: 1 section ", false},
		"good sections": {some{sure(record.Section, record.Conforms, 0.9)}, "Do these sections conform?", "What these pictures show conforms: 1 section.",
			"nothing on these pictures", "Conforming: 1 section ", false},
		"practice": {some{trainees(badCrimp), trainees(badStrip)}, "Do these practice pieces conform?",
			"Not all of them: 1 crimp does not conform, 1 stripped wire does not conform.", "find the cause, practise, and make another one",
			"Does not conform: find the cause and practise: 1 crimp, 1 stripped wire ", true},
		"a trainee among others": {some{trainees(badCrimp), sure(record.Seam, record.Conforms, 0.9)}, "May this be energised?",
			"Not on these pictures: 1 crimp must be made anew.", "find the cause, practise, and make another one", "to be made anew", false},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			info := newInvented(t, 0).info()
			info.Notes = nil
			s, err := Write(context.Background(), dir, info, c.src)
			require.NoError(t, err)
			assert.Equal(t, []any{c.question, c.head, c.practice}, []any{s.Question, s.Answer, s.Practice})
			page, pdf := pageText(read(t, dir, "index.html")), pdfWords(t, dir)
			for _, text := range []string{page, pdf} {
				assert.Contains(t, text, c.question+" "+c.head)
				if c.question != "May this be energised?" {
					assert.NotContains(t, text, "energised?")
					assert.NotContains(t, text, "must be made anew")
					assert.NotContains(t, text, "licensed person's decision")
				}
			}
			assert.Contains(t, page, c.do)
			assert.Contains(t, pdf, c.chapter)
			if c.question == "Do these sections conform?" {
				assert.Contains(t, page, "The answer rests on")
			}
		})
	}
	graded := newInvented(t, 0).info()
	graded.Practice = true
	b := newBook(graded)
	b.take(sure(record.Seam, record.Conforms, 0.9))
	assert.Equal(t, "Do these practice pieces conform?", b.question(), "grading is about practice, whoever made them")
}

// TestSectionsSayWhatTheyRestOn: how many there are, and what was measured elsewhere.
func TestSectionsSayWhatTheyRestOn(t *testing.T) {
	b := newBook(Info{})
	b.take(sure(record.Section, record.Conforms, 0.9))
	assert.Contains(t, strings.Join(b.answer().More, " "), "The answer rests on 1 section and on no value that was measured elsewhere.")
	c := sure(record.Section, record.Conforms, 0.9)
	c.Elsewhere = []site.Elsewhere{{Key: "crimp_height", Value: record.Value{Value: 1.6, U: 0.01, Unit: "mm"}, Who: "laboratory", When: "2026-05-05"}}
	b.take(c)
	assert.Contains(t, strings.Join(b.answer().More, " "),
		"The answer rests on 2 sections and on no value that was measured elsewhere; 1 further value was measured elsewhere and not judged.")
	c.ElsewhereVerdict = &record.Verdict{Result: record.Conforms, Features: []record.Feature{{Key: "crimp_height", Result: record.Conforms}}}
	b.take(c)
	assert.Contains(t, strings.Join(b.answer().More, " "), "The answer rests on 3 sections and on 1 value measured elsewhere;")
}

// TestARefusedPictureIsNamed: also where another one was taken instead and the crimp conforms.
func TestARefusedPictureIsNamed(t *testing.T) {
	c := sure(record.Seam, record.Conforms, 0.9)
	c.Pictures[0].File = "day 1/good.jpg"
	c.Pictures = append(c.Pictures, site.Picture{File: "day 1/two of them.jpg", Record: &record.Record{View: record.Seam, Retake: []string{"the picture shows two crimps"}}})
	c.Settle(true)
	require.Equal(t, record.Conforms, c.Result)
	dir := t.TempDir()
	_, err := Write(context.Background(), dir, newInvented(t, 0).info(), some{c})
	require.NoError(t, err)
	for what, text := range map[string]string{"page": pageText(read(t, dir, "index.html")), "PDF": pdfWords(t, dir)} {
		assert.Contains(t, text, refusalsHead, what)
		assert.Contains(t, text, "day 1/two of them.jpg", what)
		assert.Contains(t, text, "the picture shows two crimps (another picture of this view was measured)", what)
	}
}

// TestWhatMustBeDoneComesFirst: the PDF lists what does not conform before it goes into yields, cautions and limits, and has
// all cautions once.
func TestWhatMustBeDoneComesFirst(t *testing.T) {
	dir, _ := written(t, newInvented(t, 110))
	pdf := pdfWords(t, dir)
	at := -1
	for _, part := range []string{"checked by", "Does not conform: to be made anew", "Not measured: to be", "Conforming: ", refusalsHead + ":", "Yield All crimps", "Drift of the tools Charts", "Tolerances: "} {
		next := strings.Index(pdf, part)
		require.Greater(t, next, at, part)
		at = next
	}
	assert.Equal(t, 1, strings.Count(pdf, "Never photograph, open, pull or re-make"))
	assert.Contains(t, pdf, "steps from one to the next", "charts are drawn")
}
