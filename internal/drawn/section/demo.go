package section

// Sample is a scene of the demo under the name of its picture, without the ending.
type Sample struct {
	Name  string
	Scene Scene
}

// Demo gives the demo's micrographs: sections from the apprentice workshop of an invented solar canopy.
func Demo() []Sample { return nil }
