package vision

import (
	"fmt"
	"slices"
	"strings"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/tag"
)

// readTag puts the tag that the picture shows into the record, of a picture that must be taken again too. Which part it
// is is never guessed: a tag that cannot be read or taken, or two of them, leave the field empty and a note why. A fault
// in reading is no reason not to measure.
func readTag(grey gocv.Mat, ref scale.Reference, scaled bool, rec *record.Record) {
	pxPerMM := 0.0
	if scaled && len(ref.Points) > 0 {
		at := ref.Points[len(ref.Points)/2]
		pxPerMM = 1 / ref.MMPerPX(at.X, at.Y, 0)
	}
	codes, err := tag.Find(grey, pxPerMM)
	if err != nil {
		rec.Notes = append(rec.Notes, "the tag could not be looked for ("+err.Error()+"): this is a fault of the program, please report it")
		return
	}
	takeTag(codes, rec)
}

func takeTag(codes []tag.Code, rec *record.Record) {
	var texts []string
	unread := false
	for _, c := range codes {
		switch {
		case !c.Read:
			unread = true
		case !slices.Contains(texts, c.Text):
			texts = append(texts, c.Text)
		}
	}
	note := func(format string, args ...any) { rec.Notes = append(rec.Notes, fmt.Sprintf(format, args...)) }
	switch {
	case len(texts) > 1:
		note("%d tags are in the picture and none is taken: cover all but the part's own", len(texts))
	case unread && len(texts) == 0:
		note("a tag is in the picture but cannot be read: take it flat, sharp, whole and without glare, or name the part yourself")
	case unread:
		note("a second tag is in the picture that cannot be read, so none is taken: cover all but the part's own")
	case len(texts) == 1:
		text := strings.TrimSpace(texts[0])
		if reason := tag.Unfit(text); reason != "" {
			note("the tag is not taken: %s; print another with crimprule card", reason)
			return
		}
		rec.Tag = text
	}
}
