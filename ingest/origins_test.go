package ingest

import (
	"strings"
	"testing"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/fleet"
)

// A fixture is watched by what names its room or circuit too, before and after a
// move, each while it does: the files of all of them are behind its levels.
func TestFilesBehindAFixture(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2025, 1, 1+n, 0, 0, 0, 0, time.UTC) }
	reg := &fleet.Register{
		Fixtures: []fleet.Fixture{{ID: "a", Room: "R", Bay: "b1", Circuit: "c1", Installed: day(0)},
			{ID: "n", Room: "S", Bay: "b2", Circuit: "c2", Installed: day(0)}},
		Sensors: []fleet.SensorPeriod{
			{Sensor: "q", Channel: "room", Quantity: fleet.PPFD, Watches: "R"},
			{Sensor: "q", Channel: "circuit", Quantity: fleet.PPFD, Watches: "c1", From: day(10), To: day(20)},
			{Sensor: "q", Channel: "b2", Quantity: fleet.PPFD, Watches: "b2"},
			{Sensor: "q", Channel: "v", Quantity: fleet.SupplyV, Watches: "R"},
		},
		Logbook: []fleet.Entry{{At: day(30), What: fleet.Move, Scope: fleet.OfFixture, ID: "a", Value: "b2"}},
	}
	reg.Sort()
	var files []archive.File
	var cover []archive.Covered
	add := func(name, channel string, from, to int) {
		n := int64(len(files))
		files = append(files, archive.File{Sequence: n, Name: name})
		cover = append(cover, archive.Covered{Sequence: n, Series: reading.Series{Sensor: "q", Channel: channel},
			First: day(from), Last: day(to).Add(-time.Hour)})
	}
	add("room-first", "room", 0, 10)
	add("room-while-the-circuit-tells", "room", 11, 19)
	add("circuit-before", "circuit", 2, 9)
	add("circuit", "circuit", 12, 15)
	add("room-again", "room", 22, 25)
	add("b2-before-the-move", "b2", 0, 29)
	add("b2", "b2", 31, 40)
	add("voltage", "v", 0, 40)
	o := newOrigins(files, cover)
	for _, c := range []struct {
		fixture  string
		from, to time.Time
		want     string
	}{
		{"a", time.Time{}, time.Time{}, "room-first circuit room-again b2"},
		{"a", day(12), day(23), "circuit room-again"},
		{"n", time.Time{}, time.Time{}, "b2-before-the-move b2"},
	} {
		var got []string
		for _, x := range o.Behind(reg.Watched(reg.Fixture(c.fixture), fleet.PPFD), c.from, c.to) {
			got = append(got, x.File.Name)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %s, want %s", c.fixture, s, c.want)
		}
	}
}
