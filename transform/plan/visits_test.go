package plan

import (
	"testing"
	"time"
)

// Two visits to one room that a window brings near each other become one where
// the later's work may be done that early, and stay two where it may not.
func TestVisitsOfOneRoomShareADay(t *testing.T) {
	window := Terms{LampPrice: num(75), Work: []Window{{From: "2027-06-01", To: "2027-06-09"}}}
	in := Input{AsOf: asOf, Settings: Settings{Site: window}}
	day0 := day(asOf)
	june := time.Date(2027, 6, 1, 0, 0, 0, 0, time.UTC)
	at := june.Sub(day0).Hours() / 24
	make := func(early, prefer, late float64) []*action {
		return []*action{
			{room: "A", lampType: "hps-de", do: SpotRelamp, late: 0},
			{room: "A", lampType: "hps-de", do: GroupRelamp, early: early, prefer: prefer, late: late},
		}
	}
	for _, c := range []struct {
		early  float64
		visits int
	}{{20, 1}, {at, 1}, {at + 2, 2}} {
		acts := make(c.early, at+6, at+8)
		schedule(in, acts, nil)
		days := map[time.Time]bool{}
		for _, a := range acts {
			days[a.date] = true
			if a.date.Before(june) || a.date.After(june.AddDate(0, 0, 8)) {
				t.Errorf("early %g: %s on %s, outside the window", c.early, a.do, a.date)
			}
		}
		if len(days) != c.visits {
			t.Errorf("early %g: %d visits, want %d", c.early, len(days), c.visits)
		}
	}
}

// A dark lamp loses all of its light and is under its threshold for certain;
// of a lamp without a forecast no chance is claimed.
func TestDarkAndUnknownLamps(t *testing.T) {
	in := site()
	in.Lamps[0].Status, in.Lamps[1].Status, in.Lamps[1].Reason = "dark", "inseparable", "recalibrate the sensor"
	r := Make(in)
	sound(t, r)
	dark, unsure, other := lampOf(t, r, "A00"), lampOf(t, r, "A01"), lampOf(t, r, "A02")
	if dark.ChanceUnder != 1 || !dark.ChanceKnown || dark.LossPerYear.Centre < 5*other.LossPerYear.Centre {
		t.Errorf("dark: chance %g, loses %v a year, its neighbour %v", dark.ChanceUnder, dark.LossPerYear.Centre,
			other.LossPerYear.Centre)
	}
	if unsure.ChanceKnown || !has(unsure.Reasons, "recalibrate the sensor") {
		t.Errorf("inseparable: chance known %v, reasons %q", unsure.ChanceKnown, unsure.Reasons)
	}
	if !other.ChanceKnown {
		t.Errorf("a lamp with a forecast has no chance: %+v", other)
	}
}

// A cleaning that only dirty lamps ask for is left out where they are relamped
// soon after, and stays where one of them is not.
func TestCleaningBeforeARelampIsNeedless(t *testing.T) {
	d := day(asOf).AddDate(0, 0, 1)
	for _, c := range []struct {
		days    int
		forDirt bool
		want    bool
	}{{20, true, false}, {31, true, true}, {20, false, true}} {
		a, b := &lampCase{dirty: "under"}, &lampCase{}
		clean := &action{room: "A", do: Clean, date: d, forDirt: c.forDirt}
		acts := []*action{{room: "A", do: GroupRelamp, lamp: a, needsLamp: true, date: d.AddDate(0, 0, c.days)}, clean}
		plans := map[string]CleanPlan{"A": {Do: true}}
		left, cleaning := needless(acts, []*action{clean}, map[string][]*lampCase{"A": {a, b}}, plans)
		if stays := len(cleaning) == 1 && len(left) == 2; stays != c.want || plans["A"].Do != c.want {
			t.Errorf("relamped %d days after, for dirt alone %v: %d actions left, plan %+v", c.days, c.forDirt, len(left),
				plans["A"])
		}
	}
}
