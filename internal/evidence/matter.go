package evidence

import (
	"strings"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// matter is what a scan is about, which decides what can be asked of it and what is to be done.
type matter int

const (
	installation matter = iota // crimps that are to carry current
	laboratory                 // sections, and test pieces without a picture: all of them are spent
	practice                   // pieces that trainees made
)

// matter tells it by all that the scan shows: one crimp that is neither spent nor a trainee's may be energised.
func (b *book) matter() matter {
	if b.info.Practice {
		return practice
	}
	spent, trainees := 0, 0
	for _, r := range b.rows {
		if r.Kind.spent() {
			spent++
		}
		if r.Trainee != "" {
			trainees++
		}
	}
	switch {
	case len(b.rows) == 0:
		return installation
	case spent == len(b.rows):
		return laboratory
	case trainees == len(b.rows):
		return practice
	}
	return installation
}

// spent tells whether there is nothing left to be used or made anew.
func (k kind) spent() bool { return k == cutSection || k == testPiece }

// Cut tells whether a crimp is known by its sections: nobody can use it or make it anew.
func Cut(c site.Crimp) bool { return kindOf(c) == cutSection }

// Tested tells whether a crimp is known by values measured elsewhere alone, as a test piece is that was pulled apart.
func Tested(c site.Crimp) bool { return kindOf(c) == testPiece }

// RefusedBeside says which pictures of a crimp ask for a better one though another one is told as the reason for its result,
// or was measured instead: else nobody would hear of them.
func RefusedBeside(c site.Crimp) []string {
	told := Why(c)
	var all []string
	for i, p := range c.Pictures {
		if !p.Refused() {
			continue
		}
		reason := wording.Clean(strings.Join(p.Record.Retake, "; "))
		if strings.HasPrefix(reason, told) && told != "" {
			told = "" // told once
			continue
		}
		if c.Retaken(i) {
			reason += retaken
		}
		all = append(all, wording.Clean(p.File)+": "+reason)
	}
	return all
}

// retaken is said of a picture that came to nothing.
const retaken = " (another picture of this view was measured)"

// question is what the answer answers.
func (b *book) question() string {
	switch b.matter() {
	case laboratory:
		if b.total().Pieces > 0 {
			return "Do these sections and test pieces conform?"
		}
		return "Do these sections conform?"
	case practice:
		return "Do these practice pieces conform?"
	}
	return "May this be energised?"
}

// standing is what must be known with every answer.
func (m matter) standing() []string {
	switch m {
	case laboratory:
		return []string{"A crimp that was cut or tested speaks for itself alone. Whether a tool, a die or a lot is released is for whoever answers for it to say, by the " +
			"contact maker's specification.", notPhotoed}
	case practice:
		return []string{"These are practice pieces: this says nothing of what may be energised, and does not qualify a person. Whether somebody may crimp unattended is " +
			"for the trainer to say.", notPhotoed}
	}
	return []string{notByPictures, notPhotoed}
}

// failing says of each kind that it does not conform: of one, and of several.
func (m matter) failing(k kind) (one, many string) {
	if m == installation {
		switch k {
		case madeCrimp:
			return "crimp must be made anew", "crimps must be made anew"
		case strippedEnd:
			return "wire must be stripped anew", "wires must be stripped anew"
		}
	}
	switch k {
	case strippedEnd:
		return "stripped wire does not conform", "stripped wires do not conform"
	case cutSection:
		return "section does not conform", "sections do not conform"
	case testPiece:
		return "crimp without a picture does not conform by values measured elsewhere", "crimps without a picture do not conform by values measured elsewhere"
	}
	return "crimp does not conform", "crimps do not conform"
}

// urgency is the order of kinds among what does not conform: what can be mended first.
func (k kind) urgency() int {
	return [...]int{madeCrimp: 0, strippedEnd: 1, cutSection: 2, testPiece: 3}[k]
}

// chapterOf names the part of the PDF that a crimp stands in.
func (m matter) chapterOf(r *row) string {
	switch {
	case r.Replaced != "":
		return "Replaced by crimps that were made anew"
	case r.PutRight:
		return "Not measured: to be put right here, without a new photo"
	case r.Result != record.DoesNotConform:
		return chapters[r.Result]
	case r.Kind.spent():
		return "Does not conform: hold back what this set-up made"
	case m == practice:
		return "Does not conform: find the cause and practise"
	case r.Kind == strippedEnd:
		return "Does not conform: to be stripped anew"
	}
	return "Does not conform: to be made anew"
}

// chapters of the PDF by result.
var chapters = map[record.Result]string{
	record.NotMeasured: "Not measured: to be photographed again",
	record.NotProven:   "Not proven",
	"":                 "Not judged",
	record.Conforms:    "Conforming",
}
