package derive

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// putDaily writes the rows up to a day as table daily of an archive.
func putDaily(t *testing.T, dir string, rows []daily.Row, last int32) *archive.Archive {
	t.Helper()
	l, err := archive.Acquire(dir, archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	d, err := archive.Derive(l, TableDaily)
	if err != nil {
		t.Fatal(err)
	}
	parts := map[string][]daily.Row{}
	for _, r := range rows {
		if r.Day.Day > last {
			continue
		}
		m := calendar.MonthOf(calendar.Date(r.Day.Day))
		for _, p := range spansOf(m, m == calendar.MonthOf(calendar.Date(last))) {
			if p.holds(r.Day.Day) {
				parts[p.partition] = append(parts[p.partition], r)
			}
		}
	}
	for partition, rows := range parts {
		key := archive.Key(nil, fmt.Sprintf("%+v", rows))
		if d.Keep(TableDaily, partition, key) {
			continue
		}
		if _, err := d.Write(TableDaily, partition, key, dailyColumns(rows)); err != nil {
			t.Fatal(err)
		}
	}
	a, err := d.Commit()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// inventedRecord is a site of n fixtures with what a fleet's record may hold: relamps, a failure,
// cleanings, recalibrations, gaps, hour meters, a fixture that nothing
// reads, another that the register does not know.
func inventedRecord(n int) (sitefolder.Site, []daily.Row, int32) {
	begun := time.Date(2022, 11, 20, 0, 0, 0, 0, time.UTC)
	first := calendar.DayOf(begun, time.UTC)
	const days = 700
	reg := &fleet.Register{}
	rng := rand.New(rand.NewPCG(5, 6))
	var rows []daily.Row
	nan := math.NaN()
	for i := range n {
		id, sensor, room := fmt.Sprintf("f%03d", i), fmt.Sprintf("log%d", i/10), fmt.Sprintf("room%d", i/50)
		typ := []fleet.LampType{fleet.HPSDE, fleet.LED}[i/10%2]
		if i != 77 { // read, but not registered
			reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: id, Room: room, Bay: room + "-" + sensor, LampType: typ,
				Cohort: fmt.Sprintf("lot-%s-%d", typ, i/50), RatedV: 230, Gear: fleet.Magnetic, Installed: begun,
				HoursAtInstall: float64(i % 4 * 1500)})
			f := &reg.Fixtures[len(reg.Fixtures)-1]
			if i%13 == 6 {
				f.RatedV = 0
			}
			if i%19 == 7 {
				f.Installed = time.Time{}
			}
			reg.Sensors = append(reg.Sensors, fleet.SensorPeriod{Sensor: sensor, Channel: fmt.Sprint(i % 10),
				Quantity: fleet.PPFD, Watches: id, Factor: 1})
		}
		if i%9 == 4 && i != 77 {
			at := begun.AddDate(0, 0, 200+i)
			if i%2 == 0 {
				reg.Logbook = append(reg.Logbook, fleet.Entry{At: at.AddDate(0, 0, -5), What: fleet.Fail, Scope: fleet.OfFixture,
					ID: id, Value: "does not strike"})
			}
			reg.Logbook = append(reg.Logbook, fleet.Entry{At: at, What: fleet.Relamp, Scope: fleet.OfFixture, ID: id,
				Value: "lot-new"})
		}
		if i == 33 { // nothing reads it
			continue
		}
		meter := 0.0
		for k := range days {
			day := first + int32(k)
			meter += 12
			if rng.Float64() < .02 || i == 12 && k > 300 && k < 340 {
				continue
			}
			at := int64(day)*86400e6 + 80000e6
			r := daily.Row{Fixture: id, Sensor: sensor, Channel: fmt.Sprint(i % 10), Day: daily.Day{
				Day: day, Hours: 24, Readings: 96, Usable: 40, Spread: .003, DimPct: 100, SupplyV: 230 + 2*rng.NormFloat64(),
				AmbientC: nan, PowerW: nan, CurrentA: nan,
				LitH: 12 + .2*rng.Float64(), EdgeH: .2, PPFD: 800 * math.Exp(-2e-5*meter+.004*rng.NormFloat64()),
			}}
			if i%17 == 8 {
				r.SupplyV = nan
			}
			if i == 88 && k > 5 { // its sensor broke
				r.PPFD, r.Usable, r.Readings = nan, 0, 0
			}
			if i == 50 && k > 350 { // a lamp that nobody logged
				r.PPFD *= 1.15
			}
			byHand := i%11 == 5 && k%30 == 3
			if i%7 == 3 || byHand || i == 40 && k > 400 || i == 41 && k > days-30 {
				r.Counter = daily.Meter{First: meter - 12, Last: meter, FirstAt: at - 80000e6, LastAt: at}
			}
			rows = append(rows, r)
		}
	}
	for room := range 3 {
		reg.Logbook = append(reg.Logbook, fleet.Entry{At: begun.AddDate(0, 5+room, 3), What: fleet.Clean, Scope: fleet.OfRoom,
			ID: fmt.Sprintf("room%d", room), Value: "all"})
	}
	reg.Logbook = append(reg.Logbook, fleet.Entry{At: begun.AddDate(0, 0, 250), What: fleet.Move, Scope: fleet.OfFixture,
		ID: "f021", Value: "room2-log14"})
	for k := range n / 10 {
		reg.Logbook = append(reg.Logbook, fleet.Entry{At: begun.AddDate(1, 0, k), What: fleet.Recalibrate,
			Scope: fleet.OfSensor, ID: fmt.Sprintf("log%d", k), Number: .985})
	}
	reg.Sort()
	config := site.Defaults()
	config.Zone, config.Location = "UTC", time.UTC
	return sitefolder.Site{Config: config, Register: reg, Hash: "written"}, rows, first + days - 1
}

func firstDifference(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	cut := func(s string) string { return s[max(0, i-300):min(len(s), i+100)] }
	return cut(a) + "\n---\n" + cut(b)
}
