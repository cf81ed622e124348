package derive

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/fleet"
)

// A day's key changes with what the register says of it, from that day on, and
// with nothing else.
func TestDayKeysFollowTheRegister(t *testing.T) {
	at := func(d int) time.Time { return time.Date(2024, 5, d, 15, 0, 0, 0, time.UTC) }
	fresh := func() *fleet.Register {
		return &fleet.Register{
			Fixtures: []fleet.Fixture{{ID: "f1", Room: "r", Bay: "a", Circuit: "c"},
				{ID: "f2", Room: "r", Bay: "b", Circuit: "c"}},
			Sensors: []fleet.SensorPeriod{
				{Sensor: "s", Channel: "1", Quantity: fleet.PPFD, Watches: "f1", Factor: 1, From: at(2)},
				{Sensor: "s", Channel: "2", Quantity: fleet.PPFD, Watches: "f1", Factor: 1, From: at(5)},
				{Sensor: "s", Channel: "3", Quantity: fleet.PPFD, Watches: "f2", Factor: 1},
			},
			Logbook: []fleet.Entry{{At: at(7), What: fleet.Move, Scope: fleet.OfFixture, ID: "f1", Value: "b"},
				{At: at(8), What: fleet.Clean, Scope: fleet.OfSite}},
		}
	}
	cfg := site.Defaults()
	cfg.Location = time.UTC
	keys := func(r *fleet.Register) []string {
		var readings []archive.Part
		for d := 1; d <= 12; d++ {
			readings = append(readings, archive.Part{SHA256: fmt.Sprint(d), First: at(d), Last: at(d)})
		}
		var out []string
		k := newDayKeys(readings, sitefolder.Site{Config: cfg, Register: r})
		for d := 1; d <= 12; d++ {
			out = append(out, k.of(calendar.DayOf(at(d), time.UTC), calendar.DayOf(at(d), time.UTC)))
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
		"cohort": {func(r *fleet.Register) { r.Fixtures[0].Cohort = "x" }, 13},
		"line": {func(r *fleet.Register) { r.Fixtures[0].Line, r.Sensors[0].Line, r.Logbook[0].Line = 9, 9, 9 },
			13},
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

// Days that share readings are rolled up together, months each by itself.
func TestBatches(t *testing.T) {
	days := func(first ...int32) (out []span) {
		for _, d := range first {
			out = append(out, span{first: d, last: d})
		}
		return out
	}
	for _, c := range []struct {
		due  []span
		want int
	}{{nil, 0}, {days(7), 1}, {days(1, 2, 3+runIn), 1}, {days(1, 2, 4+runIn, 5+runIn, 30), 3},
		{[]span{{first: 1, last: 31}, {first: 32, last: 59}, {first: 60, last: 60}}, 3}} {
		got := batches(c.due)
		if len(got) != c.want || !slices.Equal(slices.Concat(got...), c.due) {
			t.Errorf("%v: %v, want %d", c.due, got, c.want)
		}
	}
}
