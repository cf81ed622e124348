package demo

import (
	"path/filepath"
	"testing"

	"wane/ingest/site"
)

// The whole demo keeps within its bounds and has what a demonstration needs:
// lamps that are under, lamps that are due soon, and young ones.
func TestThreeYearsHaveSomethingToShow(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "site")
	told := 0
	truth, err := Write(dir, 1, testToday, func(string) { told++ })
	if err != nil {
		t.Fatal(err)
	}
	if told != len(rooms()) {
		t.Errorf("progress was told %d times, want once a room", told)
	}
	if truth.Days != 1096 {
		t.Errorf("%d days, want 1096 from 2023-03-10 to 2026-03-09", truth.Days)
	}
	names, err := filepath.Glob(filepath.Join(dir, "inbox", "*"))
	if err != nil {
		t.Fatal(err)
	}
	size := folderSize(t, dir)
	if len(names) > 600 || size > 150e6 {
		t.Errorf("%d files and %.0f MB, more than 600 and 150", len(names), float64(size)/1e6)
	}
	config, err := site.Folder(dir).Load(cronLine)
	if err != nil {
		t.Fatal(err)
	}
	hoursADay := map[string]float64{}
	for _, r := range rooms() {
		hoursADay[r.id] = float64(r.hours)
	}
	types, under, soon, young, dark := map[string]bool{}, 0, 0, 0, 0
	for _, l := range truth.Lives {
		types[string(l.LampType)+" "+l.Make] = true
		if !l.To.IsZero() || len(l.Records) == 0 {
			continue
		}
		if !l.Failed.IsZero() {
			dark++
			continue
		}
		threshold := config.Thresholds.Of(l.Room, l.LampType).Level
		if threshold == 0 {
			continue // absolute: rests on the sensor's place
		}
		now := l.Records[len(l.Records)-1].Hours
		if now < 5600 {
			young++
		}
		crossing, ok := l.Law.Crossing(threshold)
		switch {
		case ok && crossing <= now:
			under++
		case ok && crossing < now+180*hoursADay[l.Room]:
			soon++
		}
	}
	if under < 5 || soon < 3 || young < 5 || dark != 1 {
		t.Errorf("%d lamps under, %d due within half a year, %d young, %d dark; want at least 5, 3 and 5, and 1", under, soon,
			young, dark)
	}
	for _, lamp := range []string{"hps-de", "hps-se", "cmh", "led"} {
		for _, make := range []string{"Invented-K", "Invented-P"} {
			if !types[lamp+" "+make] {
				t.Errorf("no %s of %s", lamp, make)
			}
		}
	}
}
