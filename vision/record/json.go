package record

import (
	"encoding/json"
	"math"
)

// In JSON, figures end where they stop to mean anything: values and their u at a millionth of their unit, a nanometre where
// that is a millimetre; the scale at seven digits, its u at three.

// MarshalJSON writes the value with its figures rounded.
func (v Value) MarshalJSON() ([]byte, error) {
	type plain Value
	v.Value, v.U = rounded(v.Value), rounded(v.U)
	return json.Marshal(plain(v))
}

// MarshalJSON writes the scale with its figures rounded.
func (s Scale) MarshalJSON() ([]byte, error) {
	type plain Scale
	s.MMPerPX, s.URel, s.TiltDeg = significant(s.MMPerPX, 7), significant(s.URel, 3), significant(s.TiltDeg, 4)
	return json.Marshal(plain(s))
}

func rounded(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// significant rounds to so many significant digits.
func significant(x float64, digits int) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	p := math.Pow10(digits - 1 - int(math.Floor(math.Log10(math.Abs(x)))))
	return math.Round(x*p) / p
}
