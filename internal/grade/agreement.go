package grade

import (
	"errors"
	"fmt"

	"crimprule/internal/statistics"
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
	// Kappa is Cohen's, with its standard error; nil where it does not exist, and Why says why.
	Kappa         *float64 `json:"kappa"`
	StandardError *float64 `json:"standard_error"`
	Why           string   `json:"why,omitempty"`
}

// ownTable counts own and program's judgements.
type ownTable struct{ a Agreement }

func (o *ownTable) take(own, program record.Result, contradicts bool) {
	good, bad := record.Conforms, record.DoesNotConform
	switch {
	case contradicts:
		o.a.Contradicting++
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
	oneOwn := a.BothGood+a.TooKind == 0 || a.TooHard+a.BothBad == 0
	oneProgram := a.BothGood+a.TooHard == 0 || a.TooKind+a.BothBad == 0
	switch {
	case errors.Is(err, statistics.ErrOneCategory):
		a.Why = "both gave the same judgement every time, so that nothing can be said beyond chance: it takes crimps of both kinds"
	case err != nil:
		a.Why = "there is no crimp that both have judged"
	case oneOwn || oneProgram: // kappa is 0 then whatever else was judged, and its standard error says nothing
		a.Why = "one of the two gave the same judgement every time, so that nothing can be said beyond chance: it takes crimps of both kinds"
	default:
		a.Kappa, a.StandardError = &k.Kappa, &k.StandardError
	}
	return a
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
		text += fmt.Sprintf(" Cohen's kappa, which takes off what chance alone would give, is %.2f (standard error %.2f%s): %s agreement "+
			"(above 0.75 it is called good, below 0.40 poor).", *a.Kappa, *a.StandardError, rough(a.Both()),
			statistics.Agreement{Kappa: *a.Kappa}.Words())
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
		text += fmt.Sprintf(" %s: put the manifest right.", countOf(a.Contradicting, "crimp is left out: it is called both good and bad",
			"crimps are left out: they are called both good and bad"))
	}
	return text
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
