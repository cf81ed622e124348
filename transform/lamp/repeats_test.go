package lamp

import (
	"slices"
	"testing"

	"wane/transform/daily"
	"wane/transform/fleet"
)

// A day repeats where its light at full power is to the last digit that of the day
// before, both of this lamp and both read.
func TestRepeats(t *testing.T) {
	day := func(d int32, ppfd, dim float64) daily.Row {
		return daily.Row{Fixture: "f1", Day: daily.Day{Day: d, Readings: 288, PPFD: ppfd, DimPct: dim}}
	}
	rows := []daily.Row{
		day(10, 800, 100), // of the relamp
		day(11, 800, 100),
		day(12, 800, 100), // stands still
		day(13, 400, 50),  // and at half power
		day(15, 400, 50),  // a day is missing between
		day(16, 0, 100),
		day(17, 0, 100), // dark, not stuck
		day(18, 801, 100),
	}
	for n, want := range map[int][]int32{1: {11, 12, 13}, 2: {12, 13}} {
		l := &Life{Life: fleet.Life{N: n}, FirstDay: 10}
		l.addLight(rows)
		if !slices.Equal(l.Repeats, want) {
			t.Errorf("lamp %d repeats on %v, want %v", n, l.Repeats, want)
		}
	}
}
