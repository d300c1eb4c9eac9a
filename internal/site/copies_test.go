package site

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func claim(scan int64, path, file string, l Label) Claim {
	return Claim{Label: l, File: file, Path: path + "/" + file, Scan: scan, On: time.Date(2026, 3, int(scan), 9, 0, 0, 0, time.UTC), Sure: true, Look: "x"}
}

func TestWhichClaimsContradictEachOther(t *testing.T) {
	kim, max := Label{Trainee: "Kim", Crimp: "1", Date: "2026-03-01"}, Label{Trainee: "Max", Crimp: "1", Date: "2026-03-20"}
	later := kim
	later.Date = "2026-03-20"
	undated := kim
	undated.Date = ""
	s4, s5 := Label{String: "S07", Crimp: "4"}, Label{String: "S07", Crimp: "5"}
	for _, c := range []struct {
		why  string
		a, b Claim
		want bool
	}{
		{"another trainee", claim(1, "/a", "1.jpg", kim), claim(2, "/b", "1.jpg", max), true},
		{"another trainee, the same file", claim(1, "/a", "1.jpg", kim), claim(2, "/a", "1.jpg", max), true},
		{"another date of the trainee", claim(1, "/a", "1.jpg", kim), claim(2, "/a", "1.jpg", later), true},
		{"the same crimp from another place", claim(1, "/a", "1.jpg", kim), claim(2, "/b", "x.jpg", kim), false},
		{"a date that was not known", claim(1, "/a", "1.jpg", kim), claim(2, "/b", "x.jpg", undated), false},
		{"another crimp", claim(1, "/a", "1.jpg", s4), claim(2, "/b", "1.jpg", s5), true},
		{"the manifest was put right", claim(1, "/a", "1.jpg", s4), claim(2, "/a", "1.jpg", s5), false},
		{"the manifest was put right, scanned from further up", claim(1, "/a/b", "1.jpg", s4), claim(2, "/a", "b/1.jpg", s5), false},
		{"a name was given", claim(1, "/a", "1.jpg", Label{}), claim(2, "/b", "2.jpg", s5), false},
		{"no names, the folder was moved", claim(1, "/a/b", "1.jpg", Label{}), claim(2, "/c", "b/1.jpg", Label{}), false},
		{"no names, another folder", claim(1, "/march", "Kim/1.jpg", Label{}), claim(2, "/april", "Max/1.jpg", Label{}), true},
	} {
		assert.Equal(t, c.want, c.a.Contradicts(c.b), c.why)
		assert.Equal(t, c.want, c.b.Contradicts(c.a), c.why)
	}
}

// Whose crimp it is was assumed from the folder, until a manifest said so of the very same file.
func TestWhatWasAssumedIsPutRight(t *testing.T) {
	assumed, told := claim(1, "/a", "Kim/1.jpg", Label{Trainee: "Kim", Crimp: "1"}), claim(2, "/a", "Kim/1.jpg", Label{Trainee: "Max", Crimp: "1"})
	assumed.Sure = false
	assert.False(t, told.Contradicts(assumed))
	told.Path = "/b/Max/1.jpg"
	assert.True(t, told.Contradicts(assumed))
}

func TestCopiesInWords(t *testing.T) {
	one, two := claim(3, "/a", "1.jpg", Label{String: "N", Crimp: "01"}), claim(3, "/a", "2.jpg", Label{String: "N", Crimp: "02"})
	var c Crimp
	c.DoubtCopies(one, []Claim{two})
	assert.Equal(t, []string{`the same picture ("1.jpg") stands for "N / 01" and "N / 02": a copy proves one crimp only, photograph the others`}, c.Doubts)
	two.Look = "y"
	c = Crimp{}
	c.DoubtCopies(two, []Claim{one})
	assert.Equal(t, []string{`"2.jpg" looks like a re-saved copy of the picture of "N / 01", or that like one of this; it stands for "N / 02" and "N / 01": ` +
		`a copy proves one crimp only, photograph the others`}, c.Doubts)
	kim, max := claim(1, "/a", "1.jpg", Label{Trainee: "Kim", Crimp: "1", Date: "2026-03-01"}), claim(4, "/b", "1.jpg", Label{Trainee: "Max", Crimp: "1", Date: "2026-03-20"})
	c = Crimp{}
	c.DoubtCopies(max, []Claim{kim})
	assert.Equal(t, []string{`the same picture ("1.jpg") stands for "Max / 1" of 2026-03-20 and "Kim / 1" of 2026-03-01 in scan 1 on 2026-03-01: ` +
		`a copy proves one crimp only, photograph the others; scan 1 had it first, for "Kim / 1" of 2026-03-01`}, c.Doubts)
	kim.Scan = 4
	c = Crimp{}
	c.DoubtCopies(max, []Claim{kim})
	assert.Contains(t, c.Doubts[0], `; by their dates "Kim / 1" of 2026-03-01 was first`)

	before, anew := claim(3, "/a", "1.jpg", Label{String: "N", Crimp: "1", Date: "2026-05-04"}), claim(3, "/a", "2.jpg", Label{String: "N", Crimp: "1", Date: "2026-05-09"})
	c = Crimp{}
	c.DoubtCopies(before, []Claim{anew})
	assert.Contains(t, c.Doubts[0], `stands for "N / 1" of 2026-05-04 and "N / 1" of 2026-05-09`, "one photo for the crimp before and for the one that was made anew proves neither")
}
