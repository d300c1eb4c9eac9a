package site

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

func TestDatesOfClocksThatWereWrong(t *testing.T) {
	measured := time.Date(2026, 5, 4, 23, 30, 0, 0, time.UTC)
	for taken, possible := range map[string]bool{
		"": true, "2026-05-04T10:00:00": true, "2026-05-05T13:29:00+14:00": true, "2026-05-05T13:29:00": true, "1995-01-01T00:00:00": true,
		"2026-05-06T00:00:00": false, "2037-01-01T00:00:00Z": false, "1980-01-01T00:00:00": false, "0001-01-01T00:00:00": false,
	} {
		p := Picture{File: "1.jpg", Measured: measured, Record: &record.Record{Taken: taken}}
		c := Crimp{Pictures: []Picture{p, p}}
		c.WarnOfClock()
		if possible {
			assert.Equal(t, taken, p.Taken())
			assert.Empty(t, c.Warnings)
		} else {
			assert.Empty(t, p.Taken(), taken)
			assert.Len(t, c.Warnings, 1)
			assert.Equal(t, taken, p.Record.Taken, "what the picture says is kept")
		}
	}
	assert.Empty(t, Picture{}.Taken())
	assert.Equal(t, "2037-01-01T00:00:00", Picture{Record: &record.Record{Taken: "2037-01-01T00:00:00"}}.Taken(), "nobody knows when it was measured")
}
