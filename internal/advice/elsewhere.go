package advice

import (
	"fmt"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

// Causes that come back under values that were measured elsewhere.
const (
	wrongInstrument = "an instrument that is out of its calibration, or was read wrongly"
	insulationIn    = "insulation in the sleeve"
	dirtyStrands    = "tarnished or dirty strands, or a strand coating that the contact is not made for"
)

// withMicrometer is where most looking goes first.
const withMicrometer = "check the zero of the micrometer, that it has the pointed anvil for crimps, and that it stood on the middle of the " +
	"sleeve, clear of the bellmouths; then hold wire, contact, die and setting of the tool against the contact's specification."

// elsewhereEntries holds what is measured with other instruments than a camera.
var elsewhereEntries = map[record.Key]entry{
	record.CrimpHeight: {"crimp height", text{
		"The crimp is pressed too far: strands and sheet are thinned, may be cracked, and the wire breaks sooner when it is pulled.",
		[]string{setTooLow, wrongDie, wireTooThin, lostStrands, wrongInstrument},
		withMicrometer,
	}, text{
		"The crimp is pressed too little: room stays between the strands, and the resistance of the joint rises with time.",
		[]string{setTooHigh, notClosed, wornDie, wireTooThick, "a burr under the floor that the micrometer stood on", wrongInstrument},
		withMicrometer,
	}},
	record.CrimpWidth: {"crimp width", text{
		"The crimp is narrower than it should be: another nest of the die, or so little pressure that the sleeve did not fill the die.",
		[]string{wrongDie, setTooHigh, notClosed, wrongContact, wrongInstrument},
		"compare die and contact with the contact's specification, and measure once more away from the bellmouths.",
	}, text{
		"The crimp is wider than it should be: the die has worn wide or gives way, or too much metal lies in it.",
		[]string{wornDie, wrongDie, setTooLow, wireTooThick, "burrs at the floor's corners were measured too", wrongInstrument},
		"compare die, wire and contact with the contact's specification, and measure the die's width.",
	}},
	elsewhere.PullOutForce: {"pull-out force", text{
		"The wire left the crimp, or broke, at less force than it should bear: pulled out whole it was pressed too little, broken at the sleeve " +
			"it was pressed too far or had lost strands.",
		[]string{setTooHigh, setTooLow, lostStrands, notClosed, wornDie, insulationIn, wireTooThin, wrongDie},
		"look at the torn end: strands that slid out whole were pressed too little, strands broken at the sleeve's edge too far; count the " +
			"strands of the next wire, and measure the next crimp's height.",
	}, cannotFail("The crimp bears more than the limit, which is nothing bad by itself.")},
	elsewhere.ContactResistance: {"contact resistance", cannotFail("The resistance is low, which is as it should be."), text{
		"The joint has more resistance than it should: it gets warm under load, ages by that, and gets warmer still.",
		[]string{setTooHigh, notClosed, lostStrands, insulationIn, dirtyStrands, wornDie,
			"the resistance of a piece of wire, or of the test clips, was measured too"},
		"measure once more with four wires, take off the resistance of the wire between the taps, and measure the crimp's height.",
	}},
	elsewhere.Torque: {"tightening torque", text{
		"It was tightened too little: the seal or the clamp does not hold, water gets in or the connection works loose.",
		[]string{"it was tightened by hand or with a wrong tool", "the torque tool is set too low or out of calibration", "a seal or a thread that drags"},
		"set a checked torque tool by the specification of the connector.",
	}, text{
		"It was tightened too much: the seal is squeezed out, a thread or the housing may be cracked.",
		[]string{"it was tightened with a wrong tool", "the torque tool is set too high or out of calibration"},
		"look at housing and seal for cracks and replace them where there are any; set a checked torque tool by the specification of the connector.",
	}},
}

// pulled is what is done where a pull-out test fails: the crimp itself is gone already, its sisters are not.
const pulled = "The test speaks for one crimp, which is spent. Stop crimping with this set-up, hold back what was made with it since the " +
	"last good test, and release it only by new tests of new crimps; never crimp a contact a second time. Before that: "

// tighten is what is done where a torque does not conform: the crimp has nothing to do with it.
const tighten = "Switch off, lock out and prove it dead before you touch the connection. Undo it, look at its parts, and tighten it anew. Before that: "

// ForElsewhere is For for a value that was measured elsewhere; nil where it conforms.
func ForElsewhere(f record.Feature) *record.Advice {
	e, ok := elsewhereEntries[f.Key]
	if !ok {
		e = entry{string(f.Key), plain("too small"), plain("too large")}
	}
	t := e.large
	if tooSmall(f) {
		t = e.small
	}
	failed := anew
	switch f.Key {
	case elsewhere.PullOutForce:
		failed = pulled
	case elsewhere.Torque:
		failed = tighten
	}
	switch f.Result {
	case record.DoesNotConform:
		return &record.Advice{Means: t.means, Causes: t.causes, Do: failed + t.check}
	case record.NotProven:
		return &record.Advice{
			Means: fmt.Sprintf("The %s lies so near its limit that this measurement cannot prove it good or bad. If it is bad: %s",
				e.name, t.means),
			Causes: t.causes,
			Do: "Measure with an instrument of smaller uncertainty, or test more crimps of the same set-up. As long as it is not proven, treat it " +
				"as one that does not conform.",
		}
	case record.NotMeasured:
		return &record.Advice{
			Means: fmt.Sprintf("Nothing is known of the %s, neither good nor bad.", e.name),
			Do:    "Put right what the reason says, and enter the value again.",
		}
	}
	return nil
}
