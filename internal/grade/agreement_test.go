package grade

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/advice"
)

func agreementOf(bothGood, tooKind, tooHard, bothBad int) Agreement {
	return (&ownTable{Agreement{BothGood: bothGood, TooKind: tooKind, TooHard: tooHard, BothBad: bothBad}}).agreement()
}

// TestWhoPassesEverything has a kappa of 0, which exists: of 1 and 4 passed and none held for bad chance gives (5*1+0*4)/25 =
// 0.20, what was seen is 1/5. Undefined it is only where chance alone gives full agreement.
func TestWhoPassesEverything(t *testing.T) {
	a := agreementOf(1, 4, 0, 0)
	require.NotNil(t, a.Kappa)
	assert.Zero(t, *a.Kappa)
	assert.Equal(t, "0.00", a.KappaText())
	assert.Nil(t, a.StandardError)
	assert.Equal(t, "Both judged 5 crimps, 1 alike. Cohen's kappa, which takes off what chance alone would give, is 0.00: one of the two gave the same judgement "+
		"every time, and then it can be nothing else. 4 crimps were passed as good, and do not conform: look at them together.", a.Words())
	assert.Nil(t, agreementOf(30, 10, 0, 0).StandardError, "it is always 0, which is no standard error")
	assert.Nil(t, agreementOf(12, 0, 0, 0).Kappa)
	assert.Nil(t, agreementOf(0, 0, 0, 12).Kappa)

	w := newWorkshop(t)
	w.add("a", "", yes, good, gap, gap, gap, gap)
	w.add("b", "", "", good)
	dir, r := sheets(t, w, UsualMark)
	assert.Equal(t, []string{"4", "-"}, []string{r.Trainees[0].Agreement.PassedText(), r.Trainees[1].Agreement.PassedText()})
	assert.Contains(t, read(t, dir, "index.html"), `data-name="passed as good, does not conform">4<`)
	assert.Contains(t, read(t, dir, "index.html"), `data-name="kappa">0.00<`)
}

// TestFewJudgementsHaveNoWord: two crimps that both judge alike are a kappa of 1, and no good agreement.
func TestFewJudgementsHaveNoWord(t *testing.T) {
	a := agreementOf(1, 0, 0, 1)
	assert.Equal(t, 1.0, *a.Kappa)
	assert.Nil(t, a.StandardError)
	assert.Equal(t, "Both judged 2 crimps, 2 alike. Cohen's kappa, which takes off what chance alone would give, is 1.00; 2 crimps are too few to call it good or bad.", a.Words())
	assert.Nil(t, agreementOf(5, 0, 0, 4).StandardError)
	assert.NotNil(t, agreementOf(5, 1, 0, 4).StandardError)
	assert.Contains(t, agreementOf(5, 0, 0, 5).Words(), "is 1.00 (standard error 0.00, rough for so few crimps): good agreement")
}

// TestContradictoryCrimpsAreNamed, some of many.
func TestContradictoryCrimpsAreNamed(t *testing.T) {
	var o ownTable
	for _, name := range []string{"a / 1", "a / 2", "a / 3", "a / 4", "a / 5", "a / 6"} {
		o.take(name, yes, yes, true)
	}
	assert.Contains(t, o.agreement().Words(), "6 crimps are left out: they are called both good and bad (a / 1, a / 2, a / 3, a / 4, a / 5 and 1 more): put the manifest right.")
}

// TestGoodWiresSpeakAgainstStripping: where all stripped wires conform, another cause that explains as much stands first, and a
// cause that alone explains the most says what speaks against it.
func TestGoodWiresSpeakAgainstStripping(t *testing.T) {
	const proven = "view: strip\nlimits: {strip_length: {min: 7.5 mm, max: 8.5 mm}}\n"
	w := newWorkshop(t)
	w.add("a", "", "", gap, gap)
	assert.Equal(t, "stripping", graded(t, w, UsualMark).Trainees[0].Practise.Name)
	w.wire(t, "a", proven, 8, 0)
	dir, r := sheets(t, w, UsualMark)
	one := r.Trainees[0]
	assert.NotEqual(t, advice.Stripping(), one.Practise.Exercise)
	assert.Contains(t, one.Cause.Others, "the wire was stripped too long")
	assert.Contains(t, one.Practise.Why, ", the first one of 4 that explain as much")
	page := text(read(t, dir, "01.html"))
	assert.Contains(t, page, one.Cause.AllWords())
	assert.Contains(t, one.Cause.AllWords(), "; or as well: the wire was stripped too long")
	assert.Contains(t, one.Cause.Words(), ", or 3 others that explain as much (each could explain all 2 crimps that do not conform)")

	s := features{}
	s.causes.take([][]string{{"the wire was stripped too long"}})
	assert.Equal(t, "the wire was stripped too long (could explain the one crimp that does not conform; but all stripped wires conform, which speaks against it)",
		s.cause(crimps, true).Words())
	w.wire(t, "a", proven, 9.5, 0)
	assert.Equal(t, "stripping", graded(t, w, UsualMark).Trainees[0].Practise.Name, "a bad wire speaks for it")
}
