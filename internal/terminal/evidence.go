package terminal

import (
	"fmt"

	"crimprule/internal/wording"
)

// CheckedEvidence is what checking a folder of evidence found.
type CheckedEvidence struct {
	Dir      string
	Whole    bool
	Files    int    // in the manifest
	Manifest string // SHA-256 of the manifest itself
	Asked    bool   // a sum of the manifest was given to hold it against
	WrongSum string // the sum that the manifest was to have and has not; empty where none was asked for or it agrees
	Findings []Finding
}

// Finding is a file that is not as it was: "changed", "missing", "added" or "refused".
type Finding struct{ What, Name, Why string }

// Evidence says whether evidence is as it was written, and names every file that is not.
func (t *Terminal) Evidence(c CheckedEvidence) error {
	p := t.page()
	if c.Whole {
		p.line("%s is as it was written: %d files", wording.Clean(c.Dir), c.Files)
	} else {
		p.line("%s is NOT as it was written", wording.Clean(c.Dir))
	}
	for _, f := range c.Findings {
		text := wording.Clean(f.Name)
		if f.Why != "" {
			text += ": " + wording.Clean(f.Why)
		}
		p.line("  %s", padded(f.What, len("changed"), false)+"  "+text)
	}
	p.line("  SHA-256 of the manifest itself: %s", c.Manifest)
	if c.WrongSum != "" {
		p.wrapped(2, "", fmt.Sprintf("It was to be %s: the manifest is not the one that was written.", c.WrongSum))
	}
	if c.Whole && !c.Asked {
		p.wrapped(2, "", "Whoever can change the evidence can write its manifest anew, and then this says the same. Give the sum that was noted when it was "+
			"written with --sum: that tells.")
	}
	if !c.Whole {
		p.wrapped(2, "", "Do not rely on it: ask whoever handed it over for the folder anew, or scan the pictures again.")
	}
	return p.w.Flush()
}
