package advice

import "crimprule/vision/record"

// sideEntries holds what reads differently from the side: there the sleeve's width is the crimp's height.
var sideEntries = map[record.Key]entry{
	record.SleeveWidth: {"height of the crimp, seen from the side", text{
		"The crimp is lower than it should be, pressed too far: strands and sheet are thinned, may be cracked, and the wire breaks sooner " +
			"when it is pulled.",
		[]string{setTooLow, wrongDie, wireTooThin, lostStrands, wrongScale},
		fromHeight + "A photo tells the height more coarsely than a micrometer does.",
	}, text{
		"The crimp is higher than it should be, pressed too little: room stays between the strands, and the resistance of the joint rises " +
			"with time.",
		[]string{setTooHigh, notClosed, wornDie, wireTooThick, "the contact lay turned about its axis before the camera, which makes it look higher", wrongScale},
		fromHeight + "A photo tells the height more coarsely than a micrometer does.",
	}},
}
