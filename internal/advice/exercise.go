package advice

import (
	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

// Exercise is what someone who learns to crimp does again before the next crimps: a name, and how it is done.
type Exercise struct {
	Name string `json:"name"`
	Do   string `json:"do"`
}

// The exercises. Common practice of workshops without a source, in our own words.
var (
	stripping = Exercise{"stripping", "Strip ten ends in a row without crimping them. Measure each stripped length with a rule, look at the cut, and count the strands " +
		"of every third end; go on when all ten are within the length of the contact's specification and no strand is cut or nicked."}
	depth = Exercise{"insertion depth", "With ten scrap wires and one contact: push the stripped wire up to the stop, hold it there, close the tool to its first click only and " +
		"look at both ends of the sleeve; then take it out. Go on when strands and insulation stand where the specification wants them ten times in a row."}
	gathering = Exercise{"gathering the strands", "Strip ten ends and push each into an open sleeve without closing the tool: lay the strands together with their own twist, look from " +
		"the front and from both sides that every one is inside, and take it out again."}
	placing = Exercise{"placing the contact in the die", "Without a wire: set ten contacts into the right nest, locator used, both wings equally open, seam to the middle; " +
		"close to the first click, look from the front, and take it out again."}
	closing = Exercise{"closing the tool", "Crimp five scrap contacts with scrap wire, each time until the ratchet lets go by itself, wire and contact held in line; look " +
		"along the seam and measure the crimp height after each."}
	toolCheck = Exercise{"tool check", "With the trainer: compare contact, wire, die, nest and setting with the contact's specification, clean the die, look at it with a loupe " +
		"for wear and burrs, and measure the crimp height of three test crimps."}
	inLine = Exercise{"holding the wire in line", "Crimp five scrap contacts with the wire resting on a support at the height of the die, so that nothing bends the contact " +
		"while the tool closes or when it is taken out; look at each from above and from the side."}
	tightening    = Exercise{"tightening", "With parts that are under no voltage: tighten ten times with a torque tool set by the specification, and have each checked by a second one."}
	photographing = Exercise{"photographing the crimp", "Photograph one crimp five times: lens clean, straight from above, part and scale reference sharp and whole in the picture, no " +
		"shadow or glare on the sleeve; measure each picture and do what it asks for until all five are measured in full."}
)

// Photographing is the exercise for pictures that could not be measured.
func Photographing() Exercise { return photographing }

var exercises = map[record.Key]Exercise{
	record.InsulationGapMean: depth, record.InsulationGapMax: depth,
	record.BrushMean: depth, record.BrushMax: depth, record.BrushMin: depth,
	record.StrayCount: gathering, record.StrayLongest: gathering,
	record.SleeveLength: toolCheck, record.SleeveWidth: toolCheck, record.BellmouthLength: placing, record.BellmouthFlare: placing,
	record.Bend:          inLine,
	record.WingWidthLeft: placing, record.WingWidthRight: placing, record.Symmetry: placing, record.SeamOffset: placing, record.SeamAngle: placing,
	record.SeamOpeningMax: closing, record.CompletenessLeft: placing, record.CompletenessRight: placing,
	record.MissingLengthMax: placing, record.MissingDepthMax: placing,

	record.StripLength: stripping, record.StrandEndSpread: stripping, record.CutStrands: stripping, record.Splay: gathering,
	record.InsulationCutAngle: stripping,

	record.CrimpHeight: toolCheck, record.CrimpWidth: toolCheck, record.FloorThickness: toolCheck,
	record.BurrHeightLeft: toolCheck, record.BurrHeightRight: toolCheck, record.BurrWidthLeft: toolCheck, record.BurrWidthRight: toolCheck,
	record.WingTipFloorLeft: toolCheck, record.WingTipFloorRight: toolCheck, record.WingTipHeightDifference: placing,
	record.WingOpening: closing, record.StrandCount: stripping, record.ConductorArea: stripping, record.VoidRatio: toolCheck, record.Compaction: toolCheck,

	elsewhere.PullOutForce: toolCheck, elsewhere.ContactResistance: toolCheck, elsewhere.Torque: tightening,
}

// ExerciseFor is the exercise for a feature that failed, small telling on which side of its limits. Where strands or
// insulation stand at the wrong end since too little or too much was stripped, depth alone does not help.
func ExerciseFor(key record.Key, small bool) Exercise {
	switch key {
	case record.InsulationGapMean, record.InsulationGapMax, record.BrushMean, record.BrushMax, record.BrushMin:
		if small == (key == record.InsulationGapMean || key == record.InsulationGapMax) {
			return stripping // insulation in the sleeve: stripped too short; a long brush: too long
		}
	}
	if e, ok := exercises[key]; ok {
		return e
	}
	return toolCheck
}

// TooSmall tells on which side a feature fails, or would fail: beyond its lower limit, or nearer to that than to the upper.
func TooSmall(f record.Feature) bool { return tooSmall(f) }
