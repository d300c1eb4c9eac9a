package grade

import (
	"crimprule/internal/site"
)

// unlisted are the crimp's pictures that do not stand in the manifest, where there is one.
func unlisted(c site.Crimp, line func(string) int) []string {
	var files []string
	for _, p := range c.Pictures {
		if line != nil && line(p.File) == 0 {
			files = append(files, p.File)
		}
	}
	return files
}

// UnlistedWords names the pictures that do not stand in the manifest, and says what to do; empty where all do.
func (r Report) UnlistedWords() string {
	if len(r.Unlisted) == 0 {
		return ""
	}
	return countOf(len(r.Unlisted), "picture does not stand", "pictures do not stand") + " in the manifest: " + someOf(r.Unlisted) +
		". Add a line for each, with the trainee, or take the picture away."
}
