package derive

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wane/ingest/reading"
	"wane/ingest/site"
	"wane/transform/fleet"
)

// A day's key changes with what the register says of it, from that day on, and
// with nothing else.
func TestDayKeysFollowTheRegister(t *testing.T) {
	at := func(d int) time.Time { return time.Date(2024, 5, d, 15, 0, 0, 0, time.UTC) }
	fresh := func() *fleet.Register {
		return &fleet.Register{
			Fixtures: []fleet.Fixture{{ID: "f1", Room: "r", Bay: "a", Circuit: "c"}, {ID: "f2", Room: "r", Bay: "b", Circuit: "c"}},
			Sensors: []fleet.SensorPeriod{
				{Sensor: "s", Channel: "1", Quantity: fleet.PPFD, Watches: "f1", Factor: 1, From: at(2)},
				{Sensor: "s", Channel: "2", Quantity: fleet.PPFD, Watches: "f1", Factor: 1, From: at(5)},
				{Sensor: "s", Channel: "3", Quantity: fleet.PPFD, Watches: "f2", Factor: 1},
			},
			Logbook: []fleet.Entry{{At: at(7), What: fleet.Move, Scope: fleet.OfFixture, ID: "f1", Value: "b"}, {At: at(8), What: fleet.Clean, Scope: fleet.OfSite}},
		}
	}
	cfg := site.Defaults()
	cfg.Location = time.UTC
	keys := func(r *fleet.Register) []string {
		digests := map[int32]digest{}
		var out []string
		for d := 1; d <= 12; d++ {
			digests[DayOf(at(d), time.UTC)] = digest{1, 1}
		}
		k := newDayKeys(Site{Config: cfg, Register: r}, digests)
		for d := 1; d <= 12; d++ {
			out = append(out, k.of(DayOf(at(d), time.UTC)))
		}
		return out
	}
	base := keys(fresh())
	for name, c := range map[string]struct {
		change func(*fleet.Register)
		from   int // first day with another key; 13: none
	}{
		"room":      {func(r *fleet.Register) { r.Fixtures[0].Room = "x" }, 1},
		"bay":       {func(r *fleet.Register) { r.Fixtures[0].Bay = "x" }, 1},
		"circuit":   {func(r *fleet.Register) { r.Fixtures[0].Circuit = "x" }, 1},
		"lamp type": {func(r *fleet.Register) { r.Fixtures[0].LampType = fleet.MH }, 1},
		"hung":      {func(r *fleet.Register) { r.Fixtures[0].Installed = at(4) }, 1},
		"another": {func(r *fleet.Register) {
			r.Fixtures = append(r.Fixtures, fleet.Fixture{ID: "f3", Bay: "a", Installed: at(4)})
		}, 4},
		"cohort":         {func(r *fleet.Register) { r.Fixtures[0].Cohort = "x" }, 13},
		"line":           {func(r *fleet.Register) { r.Fixtures[0].Line, r.Sensors[0].Line, r.Logbook[0].Line = 9, 9, 9 }, 13},
		"factor":         {func(r *fleet.Register) { r.Sensors[1].Factor = 2 }, 5},
		"channel":        {func(r *fleet.Register) { r.Sensors[1].Channel = "9" }, 5},
		"quantity":       {func(r *fleet.Register) { r.Sensors[1].Quantity = fleet.PowerW }, 5},
		"watches":        {func(r *fleet.Register) { r.Sensors[1].Watches = "a" }, 5},
		"from":           {func(r *fleet.Register) { r.Sensors[1].From = at(6) }, 5},
		"to":             {func(r *fleet.Register) { r.Sensors[0].To = at(9) }, 9},
		"order":          {func(r *fleet.Register) { r.Sensors[0], r.Sensors[1] = r.Sensors[1], r.Sensors[0] }, 5},
		"first row last": {func(r *fleet.Register) { r.Sensors[0], r.Sensors[2] = r.Sensors[2], r.Sensors[0] }, 5},
		"dim": {func(r *fleet.Register) {
			r.Logbook = append(r.Logbook, fleet.Entry{At: at(9), What: fleet.Dim, Number: 50})
		}, 9},
		"move":     {func(r *fleet.Register) { r.Logbook[0].Value = "a" }, 7},
		"cleaned":  {func(r *fleet.Register) { r.Logbook[1].At = at(9) }, 13},
		"decision": {func(r *fleet.Register) { r.Decisions = []fleet.Decision{{Sensor: "s", From: at(12), To: at(12)}} }, 12},
		"decision, before": {func(r *fleet.Register) {
			r.Decisions = []fleet.Decision{{Sensor: "s", From: at(1).AddDate(0, 0, -9), To: at(1).AddDate(0, 0, -5)}}
		}, 13},
	} {
		r := fresh()
		c.change(r)
		got := keys(r)
		for d := 1; d <= 12; d++ {
			if (got[d-1] != base[d-1]) != (d >= c.from) {
				t.Errorf("%s: 2024-05-%02d changed %v, want from %d on", name, d, got[d-1] != base[d-1], c.from)
			}
		}
	}
}

// Which days to roll up again is told from the keys; a day without readings has
// no rows to make or to keep.
func TestDueDays(t *testing.T) {
	a, b, c := strings.Repeat("a", keyDigits), strings.Repeat("b", keyDigits), strings.Repeat("c", keyDigits)
	held := map[int32]heldDay{1: {0, a}, 2: {0, b}, 3: {0, c}, 4: {1, noReadings}}
	changed, kept := dueDays([]dailyPart{{days: []int32{1, 2, 3, 4}, key: a + c + noReadings + b}}, held)
	if !slices.Equal(changed, []int32{2, 4}) || len(kept) != 1 || len(kept[0]) != 1 || !kept[0][1] {
		t.Errorf("changed %v, kept %v", changed, kept)
	}
	changed, kept = dueDays([]dailyPart{{days: []int32{2}, key: b}, {days: []int32{5}, key: a}}, held)
	if !slices.Equal(changed, []int32{5}) || len(kept) != 1 || len(kept[0]) != 1 || !kept[0][2] {
		t.Errorf("changed %v, kept %v", changed, kept)
	}
}

// Days far apart are read apart, with nothing between them.
func TestStretches(t *testing.T) {
	for _, c := range []struct {
		days []int32
		want int
	}{{nil, 0}, {[]int32{7}, 1}, {[]int32{1, 2, 3 + runIn}, 1}, {[]int32{1, 2, 4 + runIn, 5 + runIn, 30}, 3}} {
		got := stretches(c.days)
		if len(got) != c.want || !slices.Equal(slices.Concat(got...), c.days) {
			t.Errorf("%v: %v, want %d", c.days, got, c.want)
		}
	}
}

// Each of series, time, value and conflict counts in a digest.
func TestMixTellsReadingsApart(t *testing.T) {
	seen := map[uint64]bool{}
	for _, s := range []reading.Series{{Sensor: "s", Channel: "1"}, {Sensor: "s1"}, {Sensor: "", Channel: "s1"}} {
		for at := range int64(20) {
			for v := int64(-10); v < 10; v++ {
				seen[mix(hashOf(s), at*60e6, v*1e8, false)] = true
				seen[mix(hashOf(s), at*60e6, v*1e8, true)] = true
			}
		}
	}
	if len(seen) != 3*20*20*2 {
		t.Errorf("%d hashes of %d readings", len(seen), 3*20*20*2)
	}
}
