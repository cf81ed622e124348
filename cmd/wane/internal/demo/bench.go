package demo

import (
	"strconv"
	"time"

	"wane/transform/fleet"
)

// The lab: fixtures on a bench that no logger reads. A grid of PPFD is read once
// a year, the hours stand in a diary, and that is all that is known of them.
const (
	labRoom  = "LAB"
	labOn    = 6 * 60 // minute of the local day
	labHours = 16     // burning hours a day
)

// benched is one of its fixtures: how its lamp ages, what it throws on the grid.
type benched struct {
	fixture string
	lot     lot
	watts   float64
	middle  float64 // PPFD under the middle, new
	narrow  float64
}

var bench = []benched{
	{"LAB-1", lot{"K-LE-b", "Invented-K", led(0.022), 0}, 600, 880, 1.0},
	{"LAB-2", lot{"P-LE-b", "Invented-P", led(0.044), 0}, 620, 940, 1.4},
	{"LAB-3", lot{"T-LE-b", "Invented-T", led(0.072), 0}, 590, 800, 0.8},
	{"LAB-4", lot{"K-LE-b", "Invented-K", led(0.026), 0}, 600, 872, 1.0},
}

// labVisits is when the bench is surveyed, as shares of the record: with the
// grower's own surveys, and once more at the end.
var labVisits = append(append([]float64(nil), surveyShares...), 0.985)

// labHoursOn is the run-hours of a bench lamp on a day.
func labHoursOn(day int) float64 { return labHours * float64(day+1) }

// labFixtures are the bench's rows of the register.
func labFixtures(c *calendar, t *table) {
	for _, b := range bench {
		t.add(b.fixture, labRoom, "", "", string(fleet.LED), b.lot.name, b.lot.make, decimal(b.watts, 0), "230",
			string(fleet.Driver), c.date(0), "0", "", "")
	}
}

// labDiary are the hours that were written down on the days of the surveys.
func labDiary(c *calendar, t *table) {
	for _, share := range labVisits[1:] {
		day := c.at(share)
		for _, b := range bench {
			t.add(c.moment(day, 23*60+30).Format(time.RFC3339), string(fleet.HoursRead), string(fleet.OfFixture), b.fixture,
				strconv.FormatFloat(labHoursOn(day), 'f', 0, 64), "from the diary")
		}
	}
}

// labLives are the bench's lamps as they truly are.
func labLives(c *calendar) (out []Life) {
	for _, b := range bench {
		out = append(out, Life{Fixture: b.fixture, Room: labRoom, Make: b.lot.make, Cohort: b.lot.name, LampType: fleet.LED,
			N: 1, Logged: true, Law: b.lot.law, From: c.first})
	}
	return out
}
