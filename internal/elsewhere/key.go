// Package elsewhere names what is measured of a crimp with other instruments than a camera: by micrometer, in a pull-out
// machine, with a milliohmmeter, with a torque wrench. No picture yields these values; they are entered by hand, judged
// by the same tolerances file as pictures are, and stand beside their values. It is pure Go.
package elsewhere

import (
	"slices"

	"crimprule/vision/record"
)

// What can be measured elsewhere only. The crimp's height and width have the keys of a section's.
const (
	PullOutForce      record.Key = "pull_out_force"     // force at which the wire leaves the crimp or breaks, N
	ContactResistance record.Key = "contact_resistance" // of the crimp, without that of the wire, mohm
	Torque            record.Key = "torque"             // with which a gland nut or a screw of the connection was tightened, N m
)

var units = map[record.Key]string{
	record.CrimpHeight: "mm", record.CrimpWidth: "mm", PullOutForce: "N", ContactResistance: "mohm", Torque: "N m",
}

var keys = []record.Key{record.CrimpHeight, record.CrimpWidth, PullOutForce, ContactResistance, Torque}

// Keys lists what can be measured elsewhere, in the order in which a person reads it.
func Keys() []record.Key { return slices.Clone(keys) }

// Known tells whether key is one of Keys.
func Known(key record.Key) bool { return slices.Contains(keys, key) }

// Unit is the unit of a value that was measured elsewhere: "mm", "N", "mohm" or "N m"; empty for a key that is not Known.
func Unit(key record.Key) string { return units[key] }
