package suspects

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/suspect"
)

// taken makes an archive of nights of readings, each taken in by itself.
func taken(t *testing.T, nights ...string) *archive.Archive {
	t.Helper()
	folder := site.Folder(t.TempDir())
	if err := os.MkdirAll(folder.Path("inbox"), 0o755); err != nil {
		t.Fatal(err)
	}
	l, err := archive.Acquire(folder.Path("archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	for i, rows := range nights {
		if err := os.WriteFile(folder.Path("inbox", fmt.Sprintf("%d.csv", i)), []byte("time,sensor,channel,value\n"+rows),
			0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := ingest.Import(context.Background(), l,
			ingest.Options{Site: folder, Now: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)}); err != nil {
			t.Fatal(err)
		}
	}
	a, err := archive.Open(l.Dir())
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// The series come whole and in order out of parts of months and days and of
// different decimals; what is in conflict does not.
func TestEachSeries(t *testing.T) {
	a := taken(t,
		"2024-04-30T10:00:00Z,b,1,1\n2024-04-30T11:00:00Z,b,1,1.5\n2024-04-30T10:00:00Z,a,2,7\n",
		"2024-05-01T10:00:00Z,b,1,2.25\n2024-05-01T10:00:00Z,a,2,8\n2024-05-01T11:00:00Z,a,10,9\n",
		"2024-05-02T10:00:00Z,b,1,3\n2024-04-30T10:30:00Z,b,1,1.125\n2024-05-01T11:00:00Z,a,10,9.5\n2024-05-03T10:00:00Z,c,1,1\n",
	)
	at := func(s string) int64 {
		x, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return x.UnixMicro()
	}
	got := map[string]daily.Track{}
	var order []string
	err := eachSeries(a, at("2024-04-30T10:30:00Z"), at("2024-05-02T10:00:01Z"),
		func(s reading.Series, track daily.Track) {
			got[s.String()] = track
			order = append(order, s.String())
		})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]daily.Track{
		"a/2": {Time: []int64{at("2024-05-01T10:00:00Z")}, Value: []float64{8}},
		"b/1": {
			Time: []int64{at("2024-04-30T10:30:00Z"), at("2024-04-30T11:00:00Z"), at("2024-05-01T10:00:00Z"),
				at("2024-05-02T10:00:00Z")},
			Value: []float64{1.125, 1.5, 2.25, 3},
		},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"a/2", "b/1"}, order); d != "" {
		t.Error(d)
	}
}

// The factor of the register turns a reading into the unit before anything is
// held against it; a series that watches nothing has no clock to be wrong.
func TestFactorIsTaken(t *testing.T) {
	rows := ""
	for h := range 24 * 14 {
		rows += fmt.Sprintf("%s,s,1,%d\n", time.Date(2024, 5, 1, h, 0, 0, 0, time.UTC).Format(time.RFC3339), 230_000+h%7)
	}
	a := taken(t, rows)
	cfg := site.Defaults()
	cfg.Location = time.UTC
	for factor, want := range map[float64]int{0.001: 0, 1: 1} {
		s := sitefolder.Site{Config: cfg, Register: &fleet.Register{Sensors: []fleet.SensorPeriod{{Sensor: "s", Channel: "1",
			Quantity: fleet.SupplyV, Factor: factor}}}}
		found, err := Find(a, s, calendar.DayOf(time.Date(2024, 5, 14, 0, 0, 0, 0, time.UTC), time.UTC), Days)
		if err != nil || len(found) != want || want == 1 && found[0].Kind != suspect.OutOfRange {
			t.Errorf("factor %v: %+v, %v", factor, found, err)
		}
	}
}
