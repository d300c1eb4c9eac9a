package scan

import (
	"cmp"
	"errors"
	"fmt"
	"path"
	"path/filepath"
	"strings"

	"golang.org/x/text/unicode/norm"

	"crimprule/internal/site"
)

// label says of each picture which crimp it shows: from the manifests, else by its name.
func (c *collection) label(roots []root, o FindOptions, names *pattern) error {
	manifest := o.Manifest
	for i := range c.listing.Files {
		c.listing.Files[i].Origin = site.Alone
	}
	var places []manifestPlace
	if manifest != "" {
		absolute, err := filepath.Abs(manifest)
		if err != nil {
			return errors.New(unreadable(manifest, err))
		}
		places = append(places, manifestPlace{path: absolute, given: manifest})
	} else {
		for _, r := range roots {
			places = append(places, c.ownManifest(r)...)
		}
	}
	for _, p := range places {
		if err := c.readManifest(p, tomorrow(o.Now)); err != nil {
			return err
		}
	}
	for i := range c.listing.Files {
		names.label(&c.listing.Files[i])
	}
	return nil
}

// manifestPlace is where a manifest lies, as Listing.Read takes it and as the caller would write it, and what precedes
// the names in it.
type manifestPlace struct{ path, given, prefix string }

// ownManifest is the manifest at the top of a source, if there is one.
func (c *collection) ownManifest(r root) []manifestPlace {
	name := ""
	switch a := c.listing.archive(r.path); {
	case r.info.IsDir():
		name = topManifest(r.path)
	case a != nil:
		for entry := range a.entries {
			if strings.EqualFold(entry, manifestName) && name != manifestName {
				name = entry
			}
		}
	}
	if name == "" {
		return nil
	}
	c.listing.LeftAlone-- // it is read after all
	return []manifestPlace{{filepath.Join(r.path, name), filepath.Join(r.given, name), r.prefix}}
}

// readManifest reads a manifest, whose dates go up to latest, and gives its lines to the pictures.
func (c *collection) readManifest(p manifestPlace, latest string) error {
	data, err := c.listing.read(p.path, maxManifest)
	if err != nil {
		return fmt.Errorf("manifest %q %w", p.given, err)
	}
	x := c.index()
	rows, err := readManifest(p.given, data, finder{
		latest:     latest,
		picture:    func(cell string) string { return x.lookUp(p.prefix, cell) },
		tolerances: func(file string) (string, error) { return c.listing.beside(p.path, file) },
	})
	if err != nil {
		return err
	}
	c.listing.Manifests = append(c.listing.Manifests, p.path)
	if c.listing.Lines == nil {
		c.listing.Lines = map[string]int{}
	}
	for _, r := range rows {
		c.listing.Lines[cmp.Or(r.picture, p.prefix+r.file)] = len(c.listing.Lines) + 1
		if r.picture == "" {
			c.add(Found{File: p.prefix + r.file, Label: r.label, Origin: site.FromManifest, View: r.view, Problem: x.missing(p, r)})
			continue
		}
		f := &c.listing.Files[x.at[r.picture]]
		f.Label, f.Origin, f.View, f.Scales, f.Declare, f.Tolerances = r.label, site.FromManifest, r.view, r.scales, r.declare, r.tolerances
	}
	return nil
}

// index finds listed pictures by what people write.
type index struct {
	at     map[string]int    // place in the listing by name
	same   map[string]string // names by other writings: composed letters, path of the file, links to it
	folded map[string]string // names by what they have in small letters, with and without folders; for hints
}

func (c *collection) index() index {
	x := index{map[string]int{}, map[string]string{}, map[string]string{}}
	for name, listed := range c.same {
		x.same[written(name)] = listed
	}
	for i, f := range c.listing.Files {
		x.at[f.File] = i
		x.same[written(f.File)] = f.File
		if f.Path != "" {
			x.same[written(filepath.ToSlash(f.Path))] = f.File
		}
		x.folded[strings.ToLower(path.Base(f.File))] = f.File
	}
	for _, f := range c.listing.Files {
		x.folded[strings.ToLower(f.File)] = f.File
	}
	return x
}

// written takes differences out of a name that nobody sees: macOS takes accents off their letters, tables write line
// breaks in their own way.
func written(name string) string { return norm.NFC.String(strings.ReplaceAll(name, "\r\n", "\n")) }

// lookUp gives the listed picture that a manifest's cell means; empty where there is none. The name as it stands goes
// first, then without blanks around it, then with backslashes read as slashes.
func (x index) lookUp(prefix, cell string) string {
	if _, there := x.at[prefix+cell]; there {
		return prefix + cell
	}
	for _, name := range []string{cell, strings.TrimSpace(cell), strings.ReplaceAll(strings.TrimSpace(cell), `\`, "/")} {
		full := path.Clean(name)
		if !path.IsAbs(full) {
			full = path.Join(prefix, full)
		}
		if listed, there := x.same[written(full)]; there {
			return listed
		}
	}
	return ""
}

// missing words the problem of a line whose picture is not there.
func (x index) missing(p manifestPlace, r row) string {
	name := strings.ToLower(path.Clean(strings.ReplaceAll(strings.TrimSpace(r.file), `\`, "/")))
	what := fmt.Sprintf("is named in line %d of the manifest %q but is no picture that was found", r.line, p.given)
	next := "put the picture there or take the line out"
	for _, key := range []string{p.prefix + name, name, path.Base(name)} {
		if near := x.folded[key]; near != "" {
			next = fmt.Sprintf("did you mean %q? Write its name as the folder has it, or take the line out", strings.TrimPrefix(near, p.prefix))
			break
		}
	}
	return problem(r.file, what, next)
}
