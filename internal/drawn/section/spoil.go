package section

// Faults are the ways in which Spoil makes a micrograph unfit to be measured.
var Faults = []string{"out_of_focus", "section_incomplete", "not_polished", "no_section"}

// Spoil gives the scene as a bad micrograph of it, which must be refused; why is one of Faults. Anything else leaves the
// scene as it is.
func (s Scene) Spoil(why string) Scene {
	switch why {
	case "out_of_focus":
		s.Optics.BlurPX, s.Optics.Sharpen = 0.01*float64(s.Width), 0
	case "section_incomplete":
		s.ShiftPX = [2]float64{0.42 * float64(s.Width), 0.1 * float64(s.Height)}
		s.Scale.Corner = 1
	case "not_polished":
		s.Look.Scratches, s.Look.ScratchBy, s.Look.Parallel = 900, 4.5, true
		s.Look.Pits, s.Look.PitMM = 1500, 0.006
		s.Look.GrooveFaint, s.Look.Comets = 0.7, 40
	case "no_section":
		s.NoSection = true
	default:
		return s
	}
	s.ExpectRetake = why
	return s
}
