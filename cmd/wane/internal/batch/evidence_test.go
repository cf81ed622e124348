package batch

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/transform/fleet"
)

// A fixture's page names the files of whatever watched it while it hung there: a
// sensor of its room or circuit, one over its bay before it was moved, one that
// was swapped; and none that watched somebody else by then.
func TestFilesOfWhateverWatchesAFixture(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2025, 3, d, 0, 0, 0, 0, time.UTC) }
	folder := site.Folder(t.TempDir())
	if err := os.MkdirAll(folder.Path("inbox"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, sensor := range []string{"room", "circuit", "bay-a", "bay-b", "old", "new"} {
		for _, d := range []int{1, 10} {
			text := "time,sensor,channel,value\n"
			for h := range 24 {
				text += fmt.Sprintf("%s,%s,1,400\n", day(d).Add(time.Duration(h)*time.Hour).Format(time.RFC3339), sensor)
			}
			if err := os.WriteFile(folder.Path("inbox", fmt.Sprintf("%s-%02d.csv", sensor, d)), []byte(text),
				0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	light := func(sensor, watches string, from, to time.Time) fleet.SensorPeriod {
		return fleet.SensorPeriod{Sensor: sensor, Channel: "1", Quantity: fleet.PPFD, Watches: watches, Factor: 1, From: from,
			To: to}
	}
	reg := &fleet.Register{
		Fixtures: []fleet.Fixture{{ID: "in-room", Room: "r", Bay: "x", Circuit: "y"},
			{ID: "on-circuit", Room: "q", Bay: "z", Circuit: "c"},
			{ID: "moved", Room: "m", Bay: "a", Circuit: "d"}, {ID: "stays", Room: "m", Bay: "b", Circuit: "d"},
			{ID: "swapped", Room: "m", Bay: "s", Circuit: "d"}},
		Sensors: []fleet.SensorPeriod{light("room", "r", time.Time{}, time.Time{}),
			light("circuit", "c", time.Time{}, time.Time{}),
			light("bay-a", "a", time.Time{}, time.Time{}), light("bay-b", "b", time.Time{}, time.Time{}),
			light("old", "swapped", time.Time{}, day(5)), light("new", "swapped", day(5), time.Time{})},
		Logbook: []fleet.Entry{{At: day(5), What: fleet.Move, Scope: fleet.OfFixture, ID: "moved", Value: "b"}},
	}
	lock, err := archive.Acquire(folder.Path("archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer lock.Release()
	if _, err := ingest.Import(context.Background(), lock,
		ingest.Options{Site: folder, Register: reg, Now: day(20)}); err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(lock.Dir())
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]report.Evidence{}
	if err := addFiles(out, a, sitefolder.Site{Register: reg}); err != nil {
		t.Fatal(err)
	}
	for id, want := range map[string]string{
		"in-room": "[room-01.csv room-10.csv]", "on-circuit": "[circuit-01.csv circuit-10.csv]",
		"moved": "[bay-a-01.csv bay-b-10.csv]",
		"stays": "[bay-b-01.csv bay-b-10.csv]", "swapped": "[new-10.csv old-01.csv]",
	} {
		var names []string
		for _, f := range out[id].Files {
			names = append(names, f.Name)
		}
		if got := fmt.Sprint(names); got != want {
			t.Errorf("%s: %s, want %s", id, got, want)
		}
	}
}
