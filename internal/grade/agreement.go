package grade

import (
	"errors"
	"fmt"
	"strings"

	"crimprule/internal/statistics"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Agreement is how far a trainee's own judgement of the crimps agrees with the program's, over those that both judged as
// conforming or not. What the program could not prove or measure says nothing of the trainee, and is left out.
type Agreement struct {
	BothGood      int `json:"both_conforms"`
	BothBad       int `json:"both_does_not_conform"`
	TooKind       int `json:"own_conforms_program_not"` // the slip that lets a bad crimp pass
	TooHard       int `json:"own_not_program_conforms"`
	LeftOut       int `json:"left_out"` // judged by the trainee, but not proven, not measured or not judged by the program
	NoOwn         int `json:"without_own_verdict"`
	Contradicting int `json:"own_verdict_contradicts_itself"` // both good and bad was said of it: left out
	// Contradictory names the crimps of Contradicting.
	Contradictory []string `json:"contradictory_crimps,omitempty"`
	// Kappa is Cohen's; nil where it does not exist, and Why says why.
	Kappa *float64 `json:"kappa"`
	// StandardError is that of Kappa; nil where crimps are so few, or judgements so alike, that it would say nothing.
	StandardError *float64 `json:"standard_error"`
	Why           string   `json:"why,omitempty"`
}

// enoughForWords is how many crimps both must have judged before kappa is put into a word and has a standard error (common
// practice, no source).
const enoughForWords = 10

// ownTable counts own and program's judgements.
type ownTable struct{ a Agreement }

func (o *ownTable) take(crimp string, own, program record.Result, contradicts bool) {
	good, bad := record.Conforms, record.DoesNotConform
	switch {
	case contradicts:
		o.a.Contradicting++
		o.a.Contradictory = append(o.a.Contradictory, crimp)
	case own != good && own != bad:
		o.a.NoOwn++
	case program != good && program != bad:
		o.a.LeftOut++
	case own == good && program == good:
		o.a.BothGood++
	case own == bad && program == bad:
		o.a.BothBad++
	case own == good:
		o.a.TooKind++
	default:
		o.a.TooHard++
	}
}

func (o *ownTable) agreement() Agreement {
	a := o.a
	k, err := statistics.Kappa([][]int{{a.BothGood, a.TooKind}, {a.TooHard, a.BothBad}})
	switch {
	case errors.Is(err, statistics.ErrOneCategory):
		a.Why = "both gave the same judgement every time, so that nothing can be said beyond chance: it takes crimps of both kinds"
		return a
	case err != nil:
		a.Why = "there is no crimp that both have judged"
		return a
	}
	a.Kappa = &k.Kappa
	if a.Both() >= enoughForWords && !a.oneSided() {
		a.StandardError = &k.StandardError
	}
	return a
}

// oneSided tells that one of the two gave the same judgement every time: kappa is 0 then whatever the other one said.
func (a Agreement) oneSided() bool {
	return a.BothGood+a.TooKind == 0 || a.TooHard+a.BothBad == 0 || a.BothGood+a.TooHard == 0 || a.TooKind+a.BothBad == 0
}

// Both is how many crimps both judged.
func (a Agreement) Both() int { return a.BothGood + a.BothBad + a.TooKind + a.TooHard }

// KappaText is kappa with two decimals, or a dash.
func (a Agreement) KappaText() string {
	if a.Kappa == nil {
		return "-"
	}
	return fmt.Sprintf("%.2f", *a.Kappa)
}

// Words says it in sentences; empty where the trainee judged nothing.
func (a Agreement) Words() string {
	if a.Both()+a.LeftOut+a.Contradicting == 0 {
		return ""
	}
	text := fmt.Sprintf("Both judged %s, %d alike.", countOf(a.Both(), "crimp", "crimps"), a.BothGood+a.BothBad)
	if a.Both() == 0 {
		text = "No crimp was judged by both."
	}
	if a.Kappa != nil {
		text += fmt.Sprintf(" Cohen's kappa, which takes off what chance alone would give, is %.2f%s.", *a.Kappa, a.reading())
	} else if a.Both() > 0 {
		text += " Cohen's kappa cannot be given: " + a.Why + "."
	}
	if a.TooKind > 0 {
		text += fmt.Sprintf(" %s together.", countOf(a.TooKind, "crimp was passed as good, and does not conform: look at it",
			"crimps were passed as good, and do not conform: look at them"))
	}
	if a.TooHard > 0 {
		text += fmt.Sprintf(" %s.", countOf(a.TooHard, "crimp was held for bad, and conforms", "crimps were held for bad, and conform"))
	}
	if a.LeftOut > 0 {
		text += fmt.Sprintf(" %s.", countOf(a.LeftOut, "crimp is left out: the program could not prove or measure it",
			"crimps are left out: the program could not prove or measure them"))
	}
	if a.Contradicting > 0 {
		text += fmt.Sprintf(" %s (%s): put the manifest right.", countOf(a.Contradicting, "crimp is left out: it is called both good and bad",
			"crimps are left out: they are called both good and bad"), someOf(a.Contradictory))
	}
	return text
}

// reading says what kappa means, and how sure it is.
func (a Agreement) reading() string {
	switch {
	case a.oneSided():
		return ": one of the two gave the same judgement every time, and then it can be nothing else"
	case a.StandardError == nil:
		return fmt.Sprintf("; %s are too few to call it good or bad", countOf(a.Both(), "crimp", "crimps"))
	}
	return fmt.Sprintf(" (standard error %.2f%s): %s agreement (above 0.75 it is called good, below 0.40 poor)", *a.StandardError, rough(a.Both()),
		statistics.Agreement{Kappa: *a.Kappa}.Words())
}

// rough warns where things are so few that a standard error for large samples is no more than a hint (common practice, no
// source: 30).
func rough(n int) string {
	if n < 30 {
		return ", rough for so few crimps"
	}
	return ""
}

// countOf writes a number with what goes with it.
func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// mostNames is how many names stand in a sentence.
const mostNames = 5

// someOf names the first of them, fit to be printed, and counts the others.
func someOf(names []string) string {
	var shown []string
	for _, name := range names[:min(len(names), mostNames)] {
		shown = append(shown, wording.Clean(name))
	}
	text := strings.Join(shown, ", ")
	if more := len(names) - mostNames; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}
