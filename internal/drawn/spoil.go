package drawn

// Faults are the ways in which Spoil makes a picture unfit to be measured.
var Faults = []string{"blur", "tilt too large", "no scale reference", "no part", "too dark"}

// Spoil gives the scene as a bad photo of it, which must be refused; why is one of Faults. Anything else leaves the
// scene as it is.
func (s Scene) Spoil(why string) Scene {
	switch why {
	case "blur":
		s.Sensor.DefocusPX, s.Sensor.MotionPX, s.Sensor.Sharpen = 7, 9, 0
	case "tilt too large":
		s.Camera.TiltDeg = 38
	case "no scale reference":
		s.Board.None = true
	case "no part":
		s.Part.CentreMM = [2]float64{900, 900}
	case "too dark":
		s.Light.Exposure = -5
	default:
		return s
	}
	s.ExpectRetake = why
	return s
}
