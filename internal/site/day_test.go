package site

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A crimp that was made anew on another day takes the place of the one before; those of trainees stand side by side.
func TestACrimpMadeAnewReplacesTheOneBefore(t *testing.T) {
	for _, c := range []struct {
		trainee, date      string
		days               []string
		called, replacedBy string
		replaces           bool
	}{
		{"", "2026-05-04", []string{"2026-05-04", "2026-05-09", "2026-05-12"}, "N03 / 1 of 2026-05-04", "2026-05-09", false},
		{"", "2026-05-09", []string{"2026-05-04", "2026-05-09", "2026-05-12"}, "N03 / 1 of 2026-05-09", "2026-05-12", true},
		{"", "2026-05-12", []string{"2026-05-04", "2026-05-09", "2026-05-12"}, "N03 / 1 of 2026-05-12", "", true},
		{"", "2026-05-04", nil, "N03 / 1", "", false},
		{"", "", []string{"2026-05-04", "2026-05-09"}, "N03 / 1", "", false},
		{"trainee 3", "2026-05-04", []string{"2026-05-04", "2026-05-09"}, "N03 / trainee 3 / 1 of 2026-05-04", "", false},
		{"trainee 3", "2026-05-09", []string{"2026-05-04", "2026-05-09"}, "N03 / trainee 3 / 1 of 2026-05-09", "", false},
	} {
		crimp := Crimp{Label: Label{String: "N03", Trainee: c.trainee, Crimp: "1", Date: c.date}, Days: c.days}
		assert.Equal(t, c.called, crimp.Called())
		assert.Equal(t, c.replacedBy, crimp.ReplacedBy(), c.called)
		assert.Equal(t, c.replaces, crimp.Replaces(), c.called)
	}
}

func TestDaysOfAName(t *testing.T) {
	made := func(position int, str, crimp, date string) Entry {
		return Entry{Position: position, Label: Label{String: str, Crimp: crimp, Date: date}, Origin: FromManifest}
	}
	groups := Group([]Entry{made(0, "N", "1", "2026-05-09"), made(1, "N", "1", "2026-05-04"), made(2, "N", "2", "2026-05-04"), made(3, "S", "1", ""), made(4, "N", "1", ""),
		{Position: 5, Label: Label{Date: "2026-05-01"}, Origin: FromManifest}, {Position: 6, Label: Label{Date: "2026-05-02"}, Origin: FromManifest}})
	both := []string{"2026-05-04", "2026-05-09"}
	assert.Equal(t, [][]string{both, both, nil, nil, nil, nil}, Days(groups), "pictures that stand for themselves have no name")
	crimp := Crimp{Label: Label{Date: "2026-05-09"}, Days: both}
	crimp.WarnUndated(groups[0][0], "a.jpg")
	assert.Empty(t, crimp.Warnings)
	crimp.WarnUndated(groups[0][1], "e.jpg")
	assert.Equal(t, []string{`it is not known when the crimp in "e.jpg" was made, and crimps of several days have its name: it is taken for that of 2026-05-09; ` +
		`give its date in the manifest (column date)`}, crimp.Warnings)
}

// A value is of the last crimp that had been made when it was measured, unless somebody says of which one it is.
func TestValuesBelongToTheCrimpOfTheirDay(t *testing.T) {
	values := []Elsewhere{{When: "2026-05-03"}, {When: "2026-05-04"}, {When: "2026-05-08"}, {When: "2026-05-09"}, {When: "2026-05-20"},
		{When: "2026-05-20", Made: "2026-05-04"}, {When: "2026-05-20", Made: "2026-05-09"}}
	for date, want := range map[string][]bool{
		"2026-05-04": {false, true, true, false, false, true, false},
		"2026-05-09": {false, false, false, true, true, false, true},
		"":           {true, true, true, true, true, true, true},
	} {
		crimp := Crimp{Label: Label{Crimp: "1", Date: date}, Days: []string{"2026-05-04", "2026-05-09"}, Elsewhere: append([]Elsewhere(nil), values...)}
		crimp.SetAside()
		for i, e := range crimp.Elsewhere {
			assert.Equal(t, want[i], e.NotJudged() == "", "%s %v: %s", date, values[i], e.NotJudged())
		}
	}
}
