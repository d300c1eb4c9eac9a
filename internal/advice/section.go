package advice

import "crimprule/vision/record"

// Causes that come back under many measurands of a section.
const (
	setTooLow    = "the crimp height of the tool is set too low"
	setTooHigh   = "the crimp height of the tool is set too high"
	lostStrands  = "strands were lost: cut off while stripping, or left outside the sleeve"
	wornPunch    = "a worn or chipped punch (the half of the die that rolls the wings in)"
	wornAnvil    = "a worn or chipped anvil (the half of the die that the floor lies on)"
	outOfLine    = "punch and anvil do not stand in line"
	thickerSheet = "a contact of thicker sheet than the die is made for"
	wrongMicro   = "a wrong scale (the declared length of the bar or of a pixel, at another magnification)"
	aslant       = "the cut does not stand square to the axis, which makes one direction look longer"
	moreDeclared = "a declared wire that has more metal than the real one (a nominal size is no metal area)"
	oneSided     = "the strands lay to one side when the tool closed"
)

// fromHeight is where most looking goes first.
const fromHeight = "measure the crimp height of the next crimp with a crimp height micrometer, hold it against the height that the " +
	"contact's specification names for this wire, and set the tool by it. "

var (
	burrHeight = text{
		"Metal was squeezed out below the floor between punch and anvil. The burr can cut and break off, and the contact may not go " +
			"into its housing; it is a sign of a worn die or of too much pressure.",
		[]string{wornAnvil, wornPunch, outOfLine + " (a burr on one side only)", setTooLow, wireTooThick, thickerSheet},
		"look at the corners of the anvil and at the punch for wear and chips, check that they meet in line, and compare wire, contact and " +
			"crimp height with the contact's specification.",
	}
	burrWidth = text{
		"Metal was squeezed out sideways at the floor's corner. The burr can cut, hinder the contact from going into its housing and " +
			"come near to its neighbour; it is a sign of a worn die or of too much pressure.",
		[]string{wornPunch, wornAnvil, outOfLine + " (a burr on one side only)", setTooLow, wireTooThick, thickerSheet},
		"look at the corners of the anvil and at the punch for wear and chips, check that they meet in line, and compare wire, contact and " +
			"crimp height with the contact's specification.",
	}
	noBurr = cannotFail("There is no burr to speak of, which is as it should be.")

	tipNear = text{
		"The wing's tip comes close to the floor or stands on it: then the sheet and not the strands takes the force of the tool. " +
			"The tip can cut strands and crack the floor, and the strands beside it are pressed too little.",
		[]string{wireTooThin, lostStrands, setTooLow, "a contact with longer wings (for a thicker wire)", notUpright, wrongDie},
		"compare wire, contact and die with the contact's specification, and count the strands at the stripped end of the next wire.",
	}
	tipFar = text{
		"The wing's tip stays high above the floor: it rolled in too little, and the strands below it are pressed too little.",
		[]string{wireTooThick, setTooHigh, notClosed, notOpen, wornPunch, wrongContact},
		"compare wire, contact and crimp height with the contact's specification, and look at the punch's ridge for wear.",
	}
)

// sectionEntries holds every measurand of a section that the photo views do not have too. Symmetry stands with them.
var sectionEntries = map[record.Key]entry{
	record.CrimpHeight: {"crimp height", text{
		"The crimp is pressed too far: strands and sheet are thinned, may be cracked, and the wire breaks sooner when it is pulled.",
		[]string{setTooLow, wrongDie, wireTooThin, lostStrands, wrongMicro},
		fromHeight + "Check the scale of the picture against a stage micrometer.",
	}, text{
		"The crimp is pressed too little: room stays between the strands, air creeps in, and the resistance of the joint rises with time.",
		[]string{setTooHigh, notClosed, wornDie, wireTooThick, "a wing that stands on the floor and takes the force", wrongMicro},
		fromHeight + "Check the scale of the picture against a stage micrometer.",
	}},
	record.CrimpWidth: {"crimp width", text{
		"The crimp is narrower than it should be: another nest of the die, or so little pressure that the sleeve did not fill the die.",
		[]string{wrongDie, setTooHigh, notClosed, wrongContact, wrongMicro},
		"compare die and contact with the contact's specification, and the width with a caliper.",
	}, text{
		"The crimp is wider than it should be: the die has worn wide or gives way, or too much metal lies in it.",
		[]string{wornDie, wrongDie, setTooLow, wireTooThick, aslant, wrongMicro},
		"compare die, wire and contact with the contact's specification, measure the die's width, and see that the section stands square.",
	}},
	record.BurrHeightLeft:  {"height of the left burr", noBurr, burrHeight},
	record.BurrHeightRight: {"height of the right burr", noBurr, burrHeight},
	record.BurrWidthLeft:   {"width of the left burr", noBurr, burrWidth},
	record.BurrWidthRight:  {"width of the right burr", noBurr, burrWidth},
	record.FloorThickness: {"thickness of the floor", text{
		"The floor is thinned more than it should be: it can crack, and it carries less of the current and of the pull.",
		[]string{setTooLow, "a wing's tip that stands on the floor", wornAnvil, wireTooThick, wrongContact, wrongMicro},
		fromHeight + "Look for a crack in the floor, and at the anvil for a raised edge.",
	}, text{
		"The floor is thicker than it should be: not the intended contact, or the scale of the picture is wrong.",
		[]string{wrongContact, thickerSheet, aslant, wrongMicro},
		"compare the sheet of a new contact with its drawing, and the scale of the picture with a stage micrometer.",
	}},
	record.WingTipFloorLeft:  {"left wing tip to floor", tipNear, tipFar},
	record.WingTipFloorRight: {"right wing tip to floor", tipNear, tipFar},
	record.WingTipHeightDifference: {"difference of the wing tips' heights", cannotFail("Both wing tips stand equally high, which is as it should be."), text{
		"One wing dives deeper than the other: the strands are pressed unequally, and the wings support each other badly.",
		[]string{notUpright, notOpen, oneSided, "the ridge of the punch is worn on one side", outOfLine},
		"set the contact upright in the die, look at both wings before closing the tool, and at the punch's ridge for wear.",
	}},
	record.WingOpening: {"opening between the wings", cannotFail("The wings touch, which is as it should be."), text{
		"The wings do not touch and so do not support each other: the sleeve can spring open and lose its pressure.",
		[]string{setTooHigh, notClosed, wireTooThick, wrongContact, wrongDie, wornPunch},
		"compare wire, contact and crimp height with the contact's specification, and close the tool until its ratchet lets go.",
	}},
	record.StrandCount: {"number of strands", text{
		"Strands are missing in the sleeve: less metal carries the current and the pull, and those that are left are pressed less.",
		[]string{cutStrands, splayed, "a wire with fewer strands than was declared",
			"strands pressed so tightly that the picture does not show each one"},
		"count the strands at the stripped end of the next wire, look at the stripping blades, and at the drawing: " +
			"it shows every strand that was counted. Etching shows borders that polishing alone does not.",
	}, text{
		"There are more strands in the sleeve than the wire should have: another wire, or two, or the picture was read wrongly.",
		[]string{"a wire of another make or size", "two wires in one sleeve", "a strand that is torn, or a scratch or stain that cuts it in two in the picture"},
		"count the strands at the stripped end of the next wire, and look at the drawing: it shows every strand that was counted.",
	}},
	record.ConductorArea: {"metal area of the strands", text{
		"There is less metal in the sleeve than there should be: the joint carries less current and less pull.",
		[]string{lostStrands, "a wire of smaller size or of thinner strands", setTooLow + " (the strands are drawn out)", wrongMicro},
		"count the strands and measure some with a micrometer at the stripped end of the next wire, and check the scale.",
	}, text{
		"There is more metal in the sleeve than there should be: the die is made for less, and the sleeve may not close or may crack.",
		[]string{"a wire of larger size or of thicker strands", "two wires in one sleeve", aslant, wrongMicro},
		"compare the wire with the contact's specification, and see that the section stands square to the axis.",
	}},
	record.VoidRatio: {"empty share of the cavity", cannotFail("No room stays between the strands, which is as it should be."), text{
		"Room stays between the strands: air and moisture creep in, the metal corrodes, and the resistance of the joint rises with time.",
		[]string{setTooHigh, notClosed, lostStrands, wireTooThin, wornDie, "strands that lie across each other",
			"strands or dirt torn out while grinding, which looks like a void"},
		fromHeight + "Polish the section once more before you believe many small voids.",
	}},
	record.Compaction: {"compaction of the strands", text{
		"The strands are squeezed too little: they keep their round shape, touch each other only here and there, and can slip out.",
		[]string{setTooHigh, notClosed, lostStrands, wireTooThin, wornDie, "a declared wire that has less metal than the real one"},
		fromHeight + "Check what compaction was held against: the record says it.",
	}, text{
		"The strands are squeezed too much: they are thinned, hardened and may be cracked, and the wire breaks sooner when it is pulled.",
		[]string{setTooLow, wrongDie, wireTooThick, moreDeclared},
		fromHeight + "Check what compaction was held against: the record says it.",
	}},
}
