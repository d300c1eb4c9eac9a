package advice

import (
	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

// What shows what a picture left open. Common practice without a source, in our own words.
const (
	closer     = "a closer, sharper photo from straight above"
	fromAside  = "a closer, sharper photo from straight above, and one from the side"
	ontoSeam   = "a closer, sharper photo square onto the seam"
	loupe      = ", or a look with a loupe"
	wholeBody  = "a photo with the whole contact in it, from above and from the side, or a look along a straight edge"
	micrometer = "a micrometer, which is surer than a photo"
	underneath = "the other side of the wire in a second photo, and the strands counted with a loupe: a photo shows the upper ones only"
	newSection = "a new polish, and a sharper picture at a higher magnification, with a checked scale"
	anotherWay = "an instrument of smaller uncertainty, or more tests of the same set-up"
)

var shows = map[record.Key]string{
	record.InsulationGapMean: fromAside, record.InsulationGapMax: fromAside,
	record.BrushMean: fromAside, record.BrushMax: fromAside, record.BrushMin: fromAside,
	record.StrayCount: fromAside + loupe, record.StrayLongest: fromAside + loupe,
	record.SleeveLength: closer + ", or a caliper", record.SleeveWidth: micrometer,
	record.BellmouthLength: fromAside, record.BellmouthFlare: fromAside, record.Bend: wholeBody,
	record.WingWidthLeft: ontoSeam, record.WingWidthRight: ontoSeam, record.Symmetry: ontoSeam,
	record.SeamOffset: ontoSeam, record.SeamAngle: ontoSeam, record.SeamOpeningMax: ontoSeam + loupe,
	record.CompletenessLeft: ontoSeam + loupe, record.CompletenessRight: ontoSeam + loupe,
	record.MissingLengthMax: ontoSeam + loupe, record.MissingDepthMax: ontoSeam + loupe,

	record.StripLength: closer + ", or a rule", record.StrandEndSpread: underneath, record.CutStrands: underneath,
	record.Splay: closer, record.InsulationCutAngle: closer,
}

// ToShow says what would show whether a feature is good that pictures of this view left open; of what was measured
// elsewhere the view is empty.
func ToShow(view record.View, key record.Key) string {
	switch {
	case view == "" && elsewhere.Known(key):
		return anotherWay
	case view == record.Section && (key == record.CrimpHeight || key == record.CrimpWidth):
		return newSection + "; or " + micrometer
	case view == record.Section:
		return newSection
	}
	if show, ok := shows[key]; ok {
		return show
	}
	return closer
}
