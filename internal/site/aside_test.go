package site

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A pull-out force of the contact that was cut off must not prove the one that took its place.
func TestValuesOfAnEarlierContactAreSetAside(t *testing.T) {
	const before = "measured before this crimp was made (2026-05-10)"
	for _, c := range []struct{ made, when, want string }{
		{"2026-05-10", "2026-05-09", before},
		{"2026-05-10", "2025-12-31", before},
		{"2026-05-10", "2026-05-10", ""},
		{"2026-05-10", "2026-05-11", ""},
		{"", "2026-05-09", ""},
		{"2026-05-10", "", ""},
		{"in spring", "2026-05-09", ""},
	} {
		crimp := Crimp{Label: Label{Date: c.made}, Elsewhere: []Elsewhere{{When: "2026-05-12"}, {When: c.when}}}
		crimp.SetAside()
		assert.Equal(t, []string{"", c.want}, []string{crimp.Elsewhere[0].NotJudged(), crimp.Elsewhere[1].NotJudged()}, "%v", c)
		crimp.Label.Date = ""
		crimp.SetAside()
		assert.Empty(t, crimp.Elsewhere[1].NotJudged(), "what was set aside once comes back where the date is not known")
	}
}

func TestRemarksOnValues(t *testing.T) {
	both := Elsewhere{Withdrawn: "withdrawn by crew A on 2026-05-11: typing error", Outdated: "too old", Note: "machine 4"}
	assert.Equal(t, "not judged: withdrawn by crew A on 2026-05-11: typing error; note: machine 4", both.Remark())
	assert.Equal(t, "not judged: too old", Elsewhere{Outdated: "too old"}.Remark())
	assert.Equal(t, "machine 4", Elsewhere{Note: "machine 4"}.Remark())
	assert.Empty(t, Elsewhere{}.Remark())
	assert.Equal(t, 1, (&Crimp{Elsewhere: []Elsewhere{both, {Outdated: "too old"}, {}}}).Counting())
}
