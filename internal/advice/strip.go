package advice

import "crimprule/vision/record"

// Causes that come back under many measurands of a stripped end.
const (
	stripStop    = "the length stop of the stripping tool is set wrong"
	stripNotIn   = "the wire was not pushed up to the stop of the stripping tool"
	bladesDeep   = "the stripping blades cut too deep, or are made for a thinner wire"
	bladesWorn   = "worn, chipped or dirty stripping blades"
	heldAslant   = "the wire lay aslant in the stripping tool"
	bluntShears  = "the wire was cut to length with blunt or wrong shears"
	pulledAslant = "the insulation was pulled off at an angle to the wire, or against the strands' twist"
	brushed      = "the bare strands were touched, or brushed against something"
)

// stripEntries holds every measurand of the stripped wire.
var stripEntries = map[record.Key]entry{
	record.StripLength: {"stripped length", text{
		"Too little is stripped: the strands do not fill the sleeve to its front, or the insulation gets into it.",
		[]string{stripStop, stripNotIn, bluntShears, wrongScale},
		"set the stop of the stripping tool by the length that the contact's specification names, and measure the first end with a rule.",
	}, text{
		"Too much is stripped: bare strands stay open behind the sleeve, or stand out too far at its front.",
		[]string{stripStop, pushedPast, "the insulation slipped back on the wire", wrongScale},
		"set the stop of the stripping tool by the length that the contact's specification names, and measure the first end with a rule.",
	}},
	record.StrandEndSpread: {"spread of the strand ends", cannotFail("The strands end together, which is as it should be."), text{
		"The strands end at different places: some fill the sleeve less far than others, and the short ones are held by less of it.",
		[]string{bluntShears, "the wire was cut at a slant", "strands were cut or torn off while stripping", "strands were pushed back or pulled out"},
		"cut the wire square with sharp shears that are made for its size, and strip it without turning the strands.",
	}},
	record.CutStrands: {"number of strands cut short", cannotFail("No strand is cut short, which is as it should be."), text{
		"Strands were cut off while stripping: less metal carries the current and the pull, and the sleeve presses on less than it is made " +
			"for. Others may be nicked, which this picture does not show.",
		[]string{bladesDeep, bladesWorn, heldAslant, "the stripping tool is set for another make of wire"},
		"set the blades by the wire's size, look at them for wear, strip with the wire straight in the tool, and count the strands of the next end.",
	}},
	record.Splay: {"splay of the strands", cannotFail("The strands lie together, which is as it should be."), text{
		"The strands stand apart, wider than at the insulation: single ones can miss the sleeve or fold back when the wire is pushed in.",
		[]string{pulledAslant, brushed, "the stripped end lay about for long before it was crimped", bluntShears},
		"pull the insulation off straight along the wire, lay the strands together with their own twist, never more, and crimp soon after.",
	}},
	record.InsulationCutAngle: {"slant of the insulation's cut", cannotFail("The insulation is cut square, which is as it should be."), text{
		"The insulation is cut at a slant: one side of it comes nearer to the sleeve than the other, and the blades may have met the strands.",
		[]string{heldAslant, bladesWorn, "the insulation was torn instead of cut all round", "the blades do not fit the insulation's diameter"},
		"hold the wire straight in the stripping tool, and choose or set the blades by the insulation's diameter.",
	}},
}
