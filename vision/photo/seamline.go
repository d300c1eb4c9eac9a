package photo

// seamLine is the seam along the sleeve.
type seamLine struct{}
