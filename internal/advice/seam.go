package advice

import "crimprule/vision/record"

// Causes that come back under many measurands.
const (
	strippedTooLong  = "the wire was stripped too long"
	strippedTooShort = "the wire was stripped too short"
	notAtStop        = "the wire was not pushed up to the stop"
	slippedBack      = "the wire slipped back while the tool closed"
	pushedPast       = "the wire was pushed past the stop, or there was none"
	caughtAtEdge     = "the wire was pushed in at an angle and strands caught on the sleeve's rear edge"
	wrongDie         = "the wrong die, or the wrong nest of the die, for this contact and wire"
	wornDie          = "a worn or dirty die"
	notUpright       = "the contact did not stand upright in the die (turned about its axis)"
	notOpen          = "the wings were bent or unequally open before the crimp"
	notClosed        = "the tool was not closed all the way, or its ratchet was released early"
	wrongContact     = "a contact of another type or for another wire size"
	splayed          = "strands splayed before the wire went into the sleeve"
	cutStrands       = "strands were cut off or nicked while stripping"
	wrongPlace       = "the contact did not lie at its place along the die (locator wrong or not used)"
	wireTooThick     = "the wire is too thick for this contact"
	wireTooThin      = "the wire is too thin for this contact"
	wrongScale       = "a wrong scale reference (the declared size of its squares, graduations or disc)"
)

var (
	gapSmall = text{
		"The insulation reaches into the sleeve or touches it: the sleeve presses plastic instead of metal, " +
			"the joint heats up.",
		[]string{strippedTooShort, "the wire was pushed too far in", "the insulation crept forward or was cut at a slant"},
		"check the stripping length against the contact's specification and the stop of the tool.",
	}
	gapLarge = text{
		"Bare strands lie open between insulation and sleeve: they can break by bending and touch something.",
		[]string{strippedTooLong, notAtStop, slippedBack, "the stop or locator of the tool is set wrong"},
		"check the stripping length, push the wire up to the stop and hold it there until the tool has closed.",
	}
	brushSmall = text{
		"The strand ends stop short of the sleeve's front edge: part of the sleeve presses on nothing.",
		[]string{strippedTooShort, notAtStop, slippedBack, cutStrands},
		"check the stripping length, push the wire up to the stop and hold it there until the tool has closed.",
	}
	brushLarge = text{
		"The strand ends stand out too far at the front: they can hinder the contact from locking or mating, " +
			"or touch its neighbour.",
		[]string{strippedTooLong, pushedPast, wrongPlace},
		"check the stripping length and the stop of the tool; do not trim the brush on the finished crimp.",
	}
	wingSmall = text{
		"Seen from above this wing is too narrow: it rolled in too steeply or got too little of the sheet, " +
			"so its strands are badly held.",
		[]string{notUpright, notOpen, wrongDie, wornDie, wireTooThin},
		"set the contact upright in the right, clean nest and look at both wings before closing the tool.",
	}
	wingLarge = text{
		"Seen from above this wing is too wide: it lies too flat or took the other one's place.",
		[]string{notUpright, notOpen, wrongDie, notClosed, wireTooThick},
		"set the contact upright in the right, clean nest and close the tool until its ratchet lets go.",
	}
	wingMissing = text{
		"Part of the wing's edge is missing or bent away: there the strands are not held, and the sleeve may " +
			"have cracked.",
		[]string{
			"a damaged contact (bent, torn or broken before the crimp)", wornDie, notUpright,
			"the wing was pinched by the edge of the die",
		},
		"look at the next contact before crimping, and at the die for burrs, chips and dirt.",
	}
	nothingMissing = cannotFail("Nothing is missing from the wing, which is as it should be.")
)

// entries holds every measurand of the seam and side views.
var entries = map[record.Key]entry{
	record.InsulationGapMean: {"gap between insulation and sleeve (mean)", gapSmall, gapLarge},
	record.InsulationGapMax:  {"gap between insulation and sleeve (largest)", gapSmall, gapLarge},
	record.BrushMean:         {"length of the brush (mean)", brushSmall, brushLarge},
	record.BrushMax:          {"length of the brush (longest strand)", brushSmall, brushLarge},
	record.BrushMin:          {"length of the brush (shortest strand)", brushSmall, brushLarge},
	record.StrayCount: {"number of stray strands", cannotFail("No strand lies outside the sleeve, which is as it should be."), text{
		"Strands lie outside the sleeve: they carry no current, and they can touch something else and cause " +
			"a short circuit.",
		[]string{
			splayed, cutStrands, caughtAtEdge,
			wireTooThick,
		},
		"strip without bending the strands, lay them together with their own twist, and see that all are inside before closing the tool; " +
			"do not snip stray strands off.",
	}},
	record.StrayLongest: {"longest stray strand", cannotFail("There is no long stray strand, which is as it should be."), text{
		"A strand outside the sleeve is long enough to reach a neighbouring part: danger of a short circuit or an arc.",
		[]string{splayed, strippedTooLong, caughtAtEdge},
		"strip to the right length, lay the strands together with their own twist, and see that all are inside before closing the tool; " +
			"do not snip stray strands off.",
	}},
	record.WingWidthLeft:  {"width of the left wing", wingSmall, wingLarge},
	record.WingWidthRight: {"width of the right wing", wingSmall, wingLarge},
	// Seen from above the halves are the wings' widths, in a section the areas below the wings.
	record.Symmetry: {"symmetry of left and right", text{
		"One wing took more room than the other: the strands are pressed unequally, and the seam lies off the middle.",
		[]string{notUpright, notOpen, oneSided, wornDie, wrongDie},
		"set the contact upright with its seam to the middle of the die, and the wire straight into it.",
	}, cannotFail("Left and right are of the same size, which is as it should be.")},
	record.SeamOffset: {"offset of the seam from the middle", text{
		"The seam lies too far to the right, seen from the wire: the left wing took too much room.",
		[]string{notUpright, notOpen, wornDie, wrongDie},
		"set the contact upright with its seam to the middle of the die.",
	}, text{
		"The seam lies too far to the left, seen from the wire: the right wing took too much room.",
		[]string{notUpright, notOpen, wornDie, wrongDie},
		"set the contact upright with its seam to the middle of the die.",
	}},
	record.SeamAngle: {"angle of the seam to the sleeve", cannotFail("The seam runs straight along the sleeve, which is as it should be."), text{
		"The seam runs at a slant: the sleeve twisted while it was pressed, and front and rear are closed differently.",
		[]string{
			"the contact lay at an angle in the die", "the wire was turned or pulled aside while the tool closed", wornDie,
			"the two halves of the die do not meet squarely",
		},
		"lay the contact straight into the die, support the wire in line with it, and check that the die " +
			"halves meet squarely.",
	}},
	record.SeamOpeningMax: {"opening of the seam", cannotFail("The wings close, which is as it should be."), text{
		"The wings do not close: strands can escape, and the sleeve can spring open and lose its pressure.",
		[]string{
			notClosed, wireTooThick, wrongDie, "too many strands or insulation in the sleeve",
			"a piece of a wing's edge is missing", wornDie,
		},
		"compare wire, contact and die with the contact's specification and close the tool until its ratchet lets go.",
	}},
	record.CompletenessLeft:  {"completeness of the left wing's edge", wingMissing, nothingMissing},
	record.CompletenessRight: {"completeness of the right wing's edge", wingMissing, nothingMissing},
	record.MissingLengthMax:  {"length of the largest missing piece", nothingMissing, wingMissing},
	record.MissingDepthMax:   {"depth of the largest missing piece", nothingMissing, wingMissing},
	record.SleeveLength: {"length of the sleeve", text{
		"The sleeve is shorter than it should be: not the intended contact, or the scale of the picture is wrong.",
		[]string{wrongContact, "a piece of the sleeve broke off", wrongScale},
		"compare the contact with its drawing, and the declared scale with a rule.",
	}, text{
		"The sleeve is longer than it should be: pressed too hard, so that its metal flowed lengthwise, or " +
			"not the intended contact.",
		[]string{wrongDie, wireTooThick, wrongContact, wrongScale},
		"compare contact, die and tool setting with the contact's specification, and the declared scale with a rule.",
	}},
	record.SleeveWidth: {"width of the sleeve", text{
		"The sleeve is narrower than it should be: pressed in a smaller nest, so that strands and sheet may be cracked.",
		[]string{wrongDie, wireTooThin, wrongContact, wrongScale},
		"compare contact, die and wire with the contact's specification; check crimp height and width with a micrometer.",
	}, text{
		"The sleeve is wider than it should be: not pressed enough, so that the strands are loose in it.",
		[]string{notClosed, wrongDie, wornDie, wireTooThick, wrongContact},
		"compare contact, die and wire with the contact's specification; check crimp height and width with a micrometer.",
	}},
	record.BellmouthLength: {"length of the flare at the rear", text{
		"The flare at the rear is too short or missing: the sleeve's sharp edge can cut strands where the wire bends.",
		[]string{wrongPlace, "the contact lay too far back, so that the die pressed the rear edge too", wrongDie},
		"set the locator so that the die leaves the sleeve's rear edge free.",
	}, text{
		"The flare at the rear is too long: less of the sleeve's length presses on the strands.",
		[]string{wrongPlace, "the contact lay too far forward in the die", wrongDie},
		"set the locator so that the die presses the length that the contact's specification asks for.",
	}},
	record.BellmouthFlare: {"widening of the flare at the rear", text{
		"The flare at the rear hardly widens: the sleeve's sharp edge can cut strands where the wire bends.",
		[]string{wrongPlace, wornDie, wrongDie},
		"set the locator so that the die leaves the sleeve's rear edge free, and look at the rounded end of the die.",
	}, text{
		"The flare at the rear widens too far: the sheet is thinned or cracked there, and the contact may " +
			"not fit its housing.",
		[]string{wrongPlace, "pressed too hard", wrongDie, wireTooThick},
		"set the locator, and compare die and tool setting with the contact's specification.",
	}},
	record.Bend: {"bend between sleeve and contact body", cannotFail("Sleeve and contact body are in one line, which is as it should be."), text{
		"The contact is bent at its neck: it does not mate straight, can damage its counterpart, and the " +
			"neck may be cracked.",
		[]string{
			"the contact lay at an angle in the die or in the locator",
			"the contact was pulled out before the tool had opened", "the wire hung down while the tool closed", wornDie,
		},
		"lay the contact straight into die and locator and support the wire; do not bend the finished contact straight.",
	}},
}
