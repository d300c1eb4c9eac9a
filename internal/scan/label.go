package scan

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"

	"crimprule/internal/site"
)

// label says of each picture which crimp it shows: from the manifests, else by its name.
func (c *collection) label(o FindOptions, names *pattern) error {
	for i := range c.listing.Files {
		c.listing.Files[i].Origin = site.Alone
	}
	places := c.lists
	if o.Manifest != "" {
		absolute, err := filepath.Abs(o.Manifest)
		if err != nil {
			return errors.New(unreadable(o.Manifest, err))
		}
		places = []manifestPlace{{path: absolute, given: o.Manifest}}
	}
	// The nearest one above a picture holds, so the deepest ones go first.
	depth := func(p manifestPlace) int { return strings.Count(p.prefix, "/") }
	slices.SortStableFunc(places, func(a, b manifestPlace) int {
		return cmp.Or(depth(b)-depth(a), naturally(a.prefix, b.prefix))
	})
	said := map[int]says{}
	for _, p := range places {
		if err := c.readManifest(p, tomorrow(o.Now), said); err != nil {
			return err
		}
	}
	slices.Reverse(c.listing.Manifests)
	for i := range c.listing.Files {
		names.label(&c.listing.Files[i])
	}
	return nil
}

// manifestPlace is where a manifest lies, as Listing.Read takes it and as the caller wrote it, and what precedes the names
// in it.
type manifestPlace struct{ path, given, prefix string }

// says is the line of a manifest that says what a picture is.
type says struct {
	manifest string
	row      row
}

// readManifest reads a manifest, whose dates go up to latest, and gives its lines to the pictures. said has what nearer
// manifests say of pictures, by their places in the listing: one of a folder further up may only say the same.
func (c *collection) readManifest(p manifestPlace, latest string, said map[int]says) error {
	data, err := c.listing.read(p.path, maxManifest)
	if err != nil {
		return fmt.Errorf("manifest %q %w", p.given, err)
	}
	x := c.index()
	rows, err := readManifest(p.given, data, finder{
		latest:     latest,
		picture:    func(cell string) string { return x.lookUp(p.prefix, cell) },
		tolerances: func(file string) (string, error) { return c.listing.beside(p.path, file) },
		here: func(file string) bool {
			info, err := os.Stat(file)
			return err == nil && info.Mode().IsRegular()
		},
	})
	if err != nil {
		return err
	}
	c.listing.Manifests = append(c.listing.Manifests, p.path)
	if c.listing.Lines == nil {
		c.listing.Lines = map[string]int{}
	}
	for _, r := range rows {
		if name := cmp.Or(r.picture, p.prefix+r.file); c.listing.Lines[name] == 0 { // of several lines the first counts
			c.listing.Lines[name] = len(c.listing.Lines) + 1
		}
		if r.picture == "" {
			c.add(Found{File: p.prefix + r.file, Label: r.label, Origin: site.FromManifest, View: r.view, Problem: x.missing(p, r)})
			continue
		}
		at := x.at[r.picture]
		if near, twice := said[at]; twice {
			if !near.row.saysTheSame(r) {
				return fmt.Errorf("the manifests %q (line %d) and %q (line %d) say different things of the picture %q: take one of the two lines out",
					near.manifest, near.row.line, p.given, r.line, r.picture)
			}
			continue
		}
		said[at] = says{p.given, r}
		f := &c.listing.Files[at]
		f.Label, f.Origin, f.View, f.Scales, f.Declare, f.Tolerances = r.label, site.FromManifest, r.view, r.scales, r.declare, r.tolerances
	}
	return nil
}

// saysTheSame tells whether two lines of manifests say the same of a picture.
func (r row) saysTheSame(other row) bool {
	return r.label == other.label && r.view == other.view && slices.Equal(r.scales, other.scales) && slices.Equal(r.declare, other.declare) &&
		slices.Equal(r.tolerances, other.tolerances)
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
