package advice

// Exercise is what someone who learns to crimp does again before the next crimps: a name, and how it is done.
type Exercise struct {
	Name string `json:"name"`
	Do   string `json:"do"`
	// Trainer says that it is no exercise, but for the trainer to look into.
	Trainer bool `json:"for_the_trainer,omitempty"`
}

// Label goes before it in lists.
func (e Exercise) Label() string {
	if e.Trainer {
		return "first"
	}
	return "practise"
}

// The exercises. Common practice of workshops without a source, in our own words.
var (
	stripping = Exercise{"stripping", "Strip ten ends in a row without crimping them. Measure each stripped length with a rule, look at the cut, and count the strands " +
		"of every third end; go on when all ten are within the length of the contact's specification and no strand is cut or nicked.", false}
	depth = Exercise{"insertion depth", "With ten scrap wires and one contact: push the stripped wire up to the stop, hold it there, close the tool to its first click only and " +
		"look at both ends of the sleeve; then take it out. Go on when strands and insulation stand where the specification wants them ten times in a row.", false}
	gathering = Exercise{"gathering the strands", "Strip ten ends and push each into an open sleeve without closing the tool: lay the strands together with their own twist, look from " +
		"the front and from both sides that every one is inside, and take it out again.", false}
	placing = Exercise{"placing the contact in the die", "Without a wire: set ten contacts into the right nest, locator used, both wings equally open, seam to the middle; " +
		"close to the first click, look from the front, and take it out again.", false}
	closing = Exercise{"closing the tool", "Crimp five scrap contacts with scrap wire, each time until the ratchet lets go by itself, wire and contact held in line; look " +
		"along the seam and measure the crimp height after each.", false}
	inLine = Exercise{"holding the wire in line", "Crimp five scrap contacts with the wire resting on a support at the height of the die, so that nothing bends the contact " +
		"while the tool closes or when it is taken out; look at each from above and from the side.", false}
	tightening    = Exercise{"tightening", "With parts that are under no voltage: tighten ten times with a torque tool set by the specification, and have each checked by a second one.", false}
	photographing = Exercise{"photographing the crimp", "Photograph one crimp five times: lens clean, straight from above, part and scale reference sharp and whole in the picture, no " +
		"shadow or glare on the sleeve; measure each picture and do what it asks for until all five are measured in full.", false}
	sectioning = Exercise{"making a section", "Cut, embed, grind, polish and etch three crimps of one set-up, with eye protection and gloves: square to the axis, until no scratch " +
		"crosses a strand and every strand has its border; measure each, and compare the three.", false}
	instruments = Exercise{"measuring with instruments", "Measure one crimp ten times with the same instrument, zero checked before each, and once more with a second instrument; go on when the " +
		"ten lie as near to each other as the instrument's uncertainty allows.", false}

	// What is no matter of practice. The choice of wire, contact and tool is the trainer's.
	withTrainer = Exercise{"check wire, contact and tool with the trainer", "No exercise helps here. Compare contact, wire, die, nest and setting with the contact's specification, " +
		"clean the die, look at it with a loupe for wear and burrs, and measure the crimp height of three test crimps.", true}
	limitsWithTrainer = Exercise{"check the limits with the trainer", "No exercise helps here. Read this limit in the tolerances file, and compare it with the contact's specification.", true}
	scaleWithTrainer  = Exercise{"check the scale with the trainer", "No exercise helps here. Measure the scale reference with a second one, and compare it with what was declared.", true}
)

// Photographing is the exercise for pictures that could not be measured, or that do not show enough.
func Photographing() Exercise { return photographing }

// Stripping is the exercise for causes that lie in how the wire was stripped.
func Stripping() Exercise { return stripping }

// against is the one table of causes: what is done against each. A cause without a line in it is a fault of this package,
// which its tests find.
var against = map[string]Exercise{
	strippedTooLong: stripping, strippedTooShort: stripping, cutStrands: stripping, lostStrands: stripping, insulationIn: stripping,
	"the insulation crept forward or was cut at a slant": stripping, "too many strands or insulation in the sleeve": stripping,
	stripStop: stripping, stripNotIn: stripping, bladesDeep: stripping, bladesWorn: stripping, heldAslant: stripping, bluntShears: stripping,
	pulledAslant: stripping, "the wire was cut at a slant": stripping, "strands were cut or torn off while stripping": stripping,
	"the insulation slipped back on the wire": stripping, "the insulation was torn instead of cut all round": stripping,
	"the blades do not fit the insulation's diameter": stripping, "the stripping tool is set for another make of wire": stripping,

	notAtStop: depth, slippedBack: depth, pushedPast: depth, "the wire was pushed too far in": depth, "the stop or locator of the tool is set wrong": depth,

	splayed: gathering, caughtAtEdge: gathering, brushed: gathering, oneSided: gathering, "strands were pushed back or pulled out": gathering,
	"strands that lie across each other": gathering, "the stripped end lay about for long before it was crimped": gathering,

	notUpright: placing, notOpen: placing, wrongPlace: placing, "the contact lay at an angle in the die": placing,
	"the contact lay at an angle in the die or in the locator": placing, "the wing was pinched by the edge of the die": placing,
	"the contact lay too far back, so that the die pressed the rear edge too": placing, "the contact lay too far forward in the die": placing,
	"a damaged contact (bent, torn or broken before the crimp)": placing, "a piece of a wing's edge is missing": placing,
	"a piece of the sleeve broke off": placing, "a wing that stands on the floor and takes the force": placing, "a wing's tip that stands on the floor": placing,

	notClosed: closing,

	"the wire was turned or pulled aside while the tool closed": inLine, "the contact was pulled out before the tool had opened": inLine,
	"the wire hung down while the tool closed": inLine,

	"it was tightened by hand or with a wrong tool": tightening, "it was tightened with a wrong tool": tightening,
	"the torque tool is set too low or out of calibration": tightening, "the torque tool is set too high or out of calibration": tightening,
	"a seal or a thread that drags": tightening,

	"the contact lay turned about its axis before the camera, which makes it look higher": photographing,

	aslant: sectioning, "strands or dirt torn out while grinding, which looks like a void": sectioning,
	"strands pressed so tightly that the picture does not show each one":              sectioning,
	"a strand that is torn, or a scratch or stain that cuts it in two in the picture": sectioning,

	wrongInstrument: instruments, "a burr under the floor that the micrometer stood on": instruments, "burrs at the floor's corners were measured too": instruments,
	"the resistance of a piece of wire, or of the test clips, was measured too": instruments,

	wireTooThick: withTrainer, wireTooThin: withTrainer, wrongContact: withTrainer, thickerSheet: withTrainer, wrongDie: withTrainer, wornDie: withTrainer,
	wornPunch: withTrainer, wornAnvil: withTrainer, outOfLine: withTrainer, outOfLine + " (a burr on one side only)": withTrainer,
	setTooLow: withTrainer, setTooLow + " (the strands are drawn out)": withTrainer, setTooHigh: withTrainer, "pressed too hard": withTrainer,
	"the two halves of the die do not meet squarely": withTrainer, "the ridge of the punch is worn on one side": withTrainer,
	"a contact with longer wings (for a thicker wire)": withTrainer, dirtyStrands: withTrainer, "two wires in one sleeve": withTrainer,
	"a wire of another make or size": withTrainer, "a wire of larger size or of thicker strands": withTrainer,
	"a wire of smaller size or of thinner strands": withTrainer, "a wire with fewer strands than was declared": withTrainer,
	"a declared wire that has less metal than the real one": withTrainer, moreDeclared: withTrainer, wrongChoice: withTrainer,

	exchanged: limitsWithTrainer, wrongLimit: limitsWithTrainer,

	wrongScale: scaleWithTrainer, wrongMicro: scaleWithTrainer,
}

// Against is the exercise that belongs to a cause that this package names: that of the step at the bench which the cause
// points to. What is the trainer's to choose is no exercise, and its words say so.
func Against(cause string) Exercise {
	if e, ok := against[cause]; ok {
		return e
	}
	return withTrainer
}
