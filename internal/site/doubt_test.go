package site

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestATagThatNamesAnotherCrimpIsADoubt(t *testing.T) {
	n03 := Label{String: "N03", Crimp: "01"}
	workshop := Label{String: "bench 2", Trainee: "trainee 3", Crimp: "4"}
	for _, c := range []struct {
		tag    string
		label  Label
		origin Origin
		doubt  string
	}{
		{"N03-01", Label{String: "N03", Crimp: "07"}, FromName, `the tag in "a.jpg" says "N03-01", its file's name "N03 / 07": find out which of the two it is, ` +
			"and rename the file, photograph it beside its own card, or scan without --pattern where names do not tell crimps"},
		{"N03-01", Label{String: "N03", Crimp: "07"}, FromManifest, `the tag in "a.jpg" says "N03-01", the manifest "N03 / 07": find out which of the two it is`},
		{"N0-301", n03, FromManifest, `the tag in "a.jpg" says "N0-301", the manifest "N03 / 01": find out which of the two it is`},
		{"N03", n03, FromManifest, `the tag in "a.jpg" says "N03", the manifest "N03 / 01": find out which of the two it is`},
		{"N03-01", n03, FromName, ""}, {"n03 / 1", n03, FromManifest, ""}, {"string N03, crimp 1", n03, FromManifest, ""}, {"01", n03, FromName, ""},
		{"trainee-3_4", workshop, FromName, ""}, {"3-bench-2-4", workshop, FromName, ""},
		{"T-9", Label{Crimp: "T-9"}, FromTag, ""}, {"T-9", Label{Trainee: "3", Crimp: "IMG_1"}, Assumed, ""}, {"", n03, FromName, ""}, {"T-9", Label{}, FromManifest, ""},
	} {
		var crimp Crimp
		entry := Entry{Label: c.label, Origin: c.origin, Tag: c.tag}
		if c.origin == FromName && c.label.Means(c.tag) {
			entry.Tag = "" // so it is noted
		}
		crimp.DoubtTag(Group([]Entry{entry})[0][0], "a.jpg")
		if c.doubt == "" {
			assert.Empty(t, crimp.Doubts, "%q of %q", c.tag, c.label.Name())
			continue
		}
		assert.Equal(t, []string{c.doubt}, crimp.Doubts)
	}
}
