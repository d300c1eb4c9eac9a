package statistics

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Sampling by attributes after ISO 2859-1: single sampling, normal inspection. The code letters and the numbers from D to
// P were read in copies of the tables, the rows A to C (which hold nothing but arrows to the first plan below them) and
// the rules for arrows and for lots smaller than their sample are from memory. Larger lots, other AQLs, tightened and
// reduced inspection and the rules of switching between them are not here.

// codeLetters in the order of the table; the first 15 rows of lot sizes use the first 13 of them at level II.
const codeLetters = "ABCDEFGHJKLMNP"

var sampleSizes = []int{2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800}

// lotSizes are the largest sizes of the rows of the table of code letters, and letters the letters of the three general
// levels for them.
var (
	lotSizes = []int{8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000, 35000, 150000, 500000}
	letters  = map[string]string{"I": "AABCCDEFGHJKLM", "II": "ABCDEFGHJKLMNP", "III": "BCDEFGHJKLMNP"}
)

// The arrows of the master table.
const up, down = -1, -2

// acceptance is the master table: for each AQL (as it is written) and code letter the acceptance number, or an arrow. The
// rejection number is one more.
var acceptance = map[string][]int{
	"0.65": {down, down, down, down, down, 0, up, down, 1, 2, 3, 5, 7, 10},
	"1.0":  {down, down, down, down, 0, up, down, 1, 2, 3, 5, 7, 10, 14},
	"1.5":  {down, down, down, 0, up, down, 1, 2, 3, 5, 7, 10, 14, 21},
	"2.5":  {down, down, 0, up, down, 1, 2, 3, 5, 7, 10, 14, 21, up},
}

// Levels and AQLs are what LotPlan knows, as they are written.
func Levels() []string { return []string{"I", "II", "III"} }

// AQLs lists the acceptance quality limits that LotPlan knows, in per cent not conforming, as they are written.
func AQLs() []string { return []string{"0.65", "1.0", "1.5", "2.5"} }

// Plan is a single sampling plan for a lot.
type Plan struct {
	Size  int    // of the lot
	Level string // general inspection level
	AQL   float64
	// Begun is the code letter that the lot's size gives, Letter the one whose plan holds after the arrows of the table.
	Begun, Letter string
	// Sample is how many are drawn at random. Where the table's sample is as large as the lot or larger, it is the whole lot
	// (Whole), and Table is the table's number.
	Sample, Table  int
	Whole          bool
	Accept, Reject int
}

// LotPlan finds the plan for a lot of so many at a general inspection level (I, II or III; II is usual) and an AQL in per
// cent. What the tables here do not hold is an error that says what they do.
func LotPlan(size int, level string, aql float64) (Plan, error) {
	row := slices.IndexFunc(lotSizes, func(largest int) bool { return size <= largest })
	name := strconv.FormatFloat(aql, 'f', -1, 64)
	at := slices.IndexFunc(AQLs(), func(text string) bool { v, _ := strconv.ParseFloat(text, 64); return v == aql })
	byRow, known := letters[level]
	switch {
	case size < 2:
		return Plan{}, fmt.Errorf("a lot of %d is none to draw a sample from: inspect each one; lots from 2 up have a plan", size)
	case !known:
		return Plan{}, fmt.Errorf("there is no inspection level %q: it is one of %s, and II is usual", level, strings.Join(Levels(), ", "))
	case at < 0:
		return Plan{}, fmt.Errorf("there is no plan for an AQL of %s: it is one of %s (per cent)", name, strings.Join(AQLs(), ", "))
	case row < 0, row >= len(byRow):
		return Plan{}, fmt.Errorf("a lot of %d has no plan at level %s: the table here ends at %d; split it into smaller lots",
			size, level, lotSizes[min(len(byRow), len(lotSizes))-1])
	}
	begun := strings.IndexByte(codeLetters, byRow[row])
	numbers, letter := acceptance[AQLs()[at]], begun
	for numbers[letter] < 0 { // an arrow leads to a plan with another sample size
		if numbers[letter] == up {
			letter--
		} else {
			letter++
		}
	}
	n := sampleSizes[letter]
	return Plan{
		Size: size, Level: level, AQL: aql, Begun: codeLetters[begun : begun+1], Letter: codeLetters[letter : letter+1],
		Sample: min(n, size), Table: n, Whole: n >= size, Accept: numbers[letter], Reject: numbers[letter] + 1,
	}, nil
}

// Outcome is what a sample says of its lot.
type Outcome string

// The outcomes. A lot is open as long as what is not yet known of the sample can still turn it either way.
const (
	Accepted Outcome = "accepted"
	Rejected Outcome = "rejected"
	Open     Outcome = "open"
)

// Judge holds a sample against the plan: inspected were drawn at random, bad of them do not conform, open of them could
// not be judged. What is open, and what was not drawn yet, may be good or bad. A lot is accepted when it is accepted even
// if all of that is bad, and rejected when it is rejected even if all of that is good. Where more were inspected than the
// plan asks for, the plan's sample is a part of them that nobody has marked: only an accepted lot can be told then, and a
// rejected one where so few were good that any such part would reject it.
func (p Plan) Judge(bad, open, inspected int) Outcome {
	if bad < 0 || open < 0 || bad+open > inspected || inspected > p.Size {
		panic(fmt.Sprintf("statistics: %d bad and %d open of %d inspected in a lot of %d", bad, open, inspected, p.Size))
	}
	missing, surplus := max(p.Sample-inspected, 0), max(inspected-p.Sample, 0)
	switch {
	case bad+open+missing <= p.Accept:
		return Accepted
	case bad-surplus >= p.Reject:
		return Rejected
	}
	return Open
}

// Chance is the probability that the plan accepts a lot out of a running production with this true share, 0..1, not
// conforming (the operating characteristic curve): binomial distribution.
func (p Plan) Chance(share float64) float64 {
	switch {
	case !(share >= 0 && share <= 1):
		panic(fmt.Sprintf("statistics: a share of %v", share))
	case share == 0:
		return 1
	case share == 1:
		return boolAsNumber(p.Sample <= p.Accept)
	case p.Accept >= p.Sample:
		return 1
	}
	return distuv.Binomial{N: float64(p.Sample), P: share}.CDF(float64(p.Accept))
}

// ChanceInLot is the probability that the plan accepts this very lot, of whose Size so many do not conform:
// hypergeometric distribution, since nothing is drawn twice.
func (p Plan) ChanceInLot(bad int) float64 {
	if bad < 0 || bad > p.Size {
		panic(fmt.Sprintf("statistics: %d bad in a lot of %d", bad, p.Size))
	}
	if bad <= p.Accept {
		return 1
	}
	sum := 0.0
	for x := 0; x <= min(p.Accept, p.Sample); x++ {
		sum += p.drawn(x, bad)
	}
	return min(sum, 1)
}

// drawn is the probability that exactly so many of the sample do not conform when bad of the lot do not. It is a product
// of the chances of draw after draw: the logarithms of factorials of a large lot lose eight digits in their difference.
func (p Plan) drawn(x, bad int) float64 {
	good, chance := p.Size-bad, 1.0
	for i := range x {
		chance *= float64((p.Sample-i)*(bad-i)) / float64((i+1)*(p.Size-i))
	}
	for i := range p.Sample - x {
		chance *= float64(max(good-i, 0)) / float64(p.Size-x-i)
	}
	return chance
}

// Sample is what was found in the sample of a lot, and what it says of the lot.
type Sample struct {
	Inspected int     `json:"inspected"`
	Bad       int     `json:"not_conforming"`
	Open      int     `json:"open"` // could not be judged: may be good or bad
	Outcome   Outcome `json:"outcome"`
	// Low and High are the ends of the interval for the lot's share not conforming, 0..1, after ClopperPearson at the usual
	// confidence: the low one if all that is open is good, the high one if it is bad. Where the whole lot was inspected they
	// are what was found.
	Low  float64 `json:"share_low"`
	High float64 `json:"share_high"`
}

// Inspect makes a Sample; see Judge.
func (p Plan) Inspect(bad, open, inspected int) Sample {
	s := Sample{Inspected: inspected, Bad: bad, Open: open, Outcome: p.Judge(bad, open, inspected)}
	if inspected == p.Size {
		s.Low, s.High = float64(bad)/float64(p.Size), float64(bad+open)/float64(p.Size)
		return s
	}
	s.Low, _ = ClopperPearson(bad, inspected, Usual)
	_, s.High = ClopperPearson(bad+open, inspected, Usual)
	return s
}

// Passing is how surely the plan accepts a lot in which a true share, 0..1, does not conform. Bad is how many of this lot that
// is, rounded; ThisLot and AnyLot are ChanceInLot and Chance.
type Passing struct {
	Share   float64 `json:"share"`
	Bad     int     `json:"not_conforming_in_this_lot"`
	ThisLot float64 `json:"this_lot_accepted"`
	AnyLot  float64 `json:"lot_of_such_a_production_accepted"`
}

// Passings tells it for some shares.
func (p Plan) Passings() []Passing {
	all := []Passing{}
	for _, share := range []float64{0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2} {
		bad := int(math.RoundToEven(share * float64(p.Size)))
		all = append(all, Passing{Share: share, Bad: bad, ThisLot: p.ChanceInLot(bad), AnyLot: p.Chance(share)})
	}
	return all
}

func boolAsNumber(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
