package vision

import (
	"fmt"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// sureView is the share from which the view that the picture shows is taken as told: below, an automatic choice is a guess,
// and a declared view stands.
const sureView = 0.8

// viewWords say of each photo view what it shows.
var viewWords = map[record.View]string{
	record.Seam: "a crimp square onto its seam", record.Side: "a crimp from its side", record.Strip: "a stripped wire without a contact",
}

// isSection tells whether a micrograph is to be measured. Where the view is to be told, the scale tells micrographs from
// photos: drawn bars and known pixels belong to a microscope, boards, rules and discs to a photo.
func (r Request) isSection() bool {
	if r.View != record.Auto {
		return r.View == record.Section
	}
	for _, s := range r.Scales {
		if s.Kind != "bar" && s.Kind != "known" {
			return false
		}
	}
	return len(r.Scales) > 0
}

// settleView settles which view is measured. A declared view that the picture clearly contradicts is refused, so that no
// side is measured as a seam.
func settleView(asked record.View, found part.Part, rec *record.Record) error {
	rec.Note("view_share", found.ViewShare, 3)
	sure := found.ViewShare >= sureView
	switch {
	case asked == record.Auto && !sure:
		return scale.Refusal{Reason: fmt.Sprintf("it cannot be told whether the picture shows the seam or a side: %.0f %% speaks for %s: "+
			"lay the part square onto its seam or on its side, or say which it is with --view", 100*found.ViewShare, viewWords[found.View])}
	case asked == record.Auto:
		rec.View = found.View
	case sure && found.View != asked:
		return scale.Refusal{Reason: fmt.Sprintf("the picture shows %s, not %s: call it with --view %s, or turn the part and take the picture anew",
			viewWords[found.View], viewWords[asked], found.View)}
	}
	return nil
}
