package derive

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/ingest/site"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// What somebody decided for is read like any other reading; the rest of a
// contradiction stays out, and is counted only where nobody decided.
func TestDecidedReadingsAreUsed(t *testing.T) {
	folder := site.Folder(t.TempDir())
	if err := os.MkdirAll(folder.Path("inbox"), 0o755); err != nil {
		t.Fatal(err)
	}
	at := func(h int) time.Time { return time.Date(2024, 5, 31, h, 0, 0, 0, time.UTC) }
	for name, values := range map[string][]string{"a.csv": {"1", "2", "3.25", "4", "5"},
		"b.csv": {"1", "20", "30", "40", "50"}} {
		text := "time,sensor,channel,value\n"
		for h, v := range values {
			text += at(h).Format(time.RFC3339) + ",s,1," + v + "\n"
		}
		if err := os.WriteFile(folder.Path("inbox", name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	l, err := archive.Acquire(folder.Path("archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	reg := &fleet.Register{}
	if _, err := ingest.Import(context.Background(), l,
		ingest.Options{Site: folder, Register: reg, Now: at(0).AddDate(0, 0, 1)}); err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(l.Dir())
	if err != nil {
		t.Fatal(err)
	}
	one := func(h int, k fleet.Keep, v float64) fleet.Decision {
		return fleet.Decision{Sensor: "s", Channel: "1", From: at(h), To: at(h), Keep: k, Value: v}
	}
	for _, c := range []struct {
		decisions []fleet.Decision
		want      []float64
		open      int // readings
	}{
		{nil, []float64{1}, 8},
		{[]fleet.Decision{one(2, fleet.KeepValue, 3.25), one(1, fleet.KeepHighest, 0), one(3, fleet.KeepNone, 0),
			one(4, fleet.KeepValue, 5.5)}, []float64{1, 20, 3.25}, 2},
		{[]fleet.Decision{{Sensor: "s", Channel: "1", From: at(0), To: at(23), Keep: fleet.KeepLowest}},
			[]float64{1, 2, 3.25, 4, 5}, 0},
		{[]fleet.Decision{{Sensor: "s", Channel: "2", From: at(0), To: at(23), Keep: fleet.KeepLowest}}, []float64{1}, 8},
	} {
		reg.Decisions = c.decisions
		name := reading.Series{Sensor: "s", Channel: "1"}
		tr := newTracks(a, reg, wanted{name: {}})
		if err := tr.load(at(0), at(0), at(24)); err != nil {
			t.Fatal(err)
		}
		var got daily.Track
		conflicts := tr.span(&got, name, 0, at(0).AddDate(1, 0, 0).UnixMicro(), 1)
		if !slices.Equal(got.Value, c.want) || len(conflicts) != c.open || !slices.IsSorted(got.Time) {
			t.Errorf("%+v: %v, %d open; want %v, %d", c.decisions, got.Value, len(conflicts), c.want, c.open)
		}
	}
	// A month is rolled up again only for decisions that touch it.
	reg.Decisions = []fleet.Decision{one(1, fleet.KeepNone, 0)}
	if decisionFacts(reg, at(0).AddDate(0, 0, 1), at(0).AddDate(0, 1, 0)) != "" ||
		!strings.Contains(decisionFacts(reg, at(0), at(0).AddDate(0, 1, 0)), "none") {
		t.Error("the decision counts in the wrong month")
	}
}

// A series whose decimals change from day to day lies in parts of several
// scales, which are read side by side: it comes back whole and in order.
func TestDecimalsThatChange(t *testing.T) {
	folder := site.Folder(t.TempDir())
	if err := os.MkdirAll(folder.Path("inbox"), 0o755); err != nil {
		t.Fatal(err)
	}
	begin := time.Date(2024, 5, 27, 0, 0, 0, 0, time.UTC)
	text := "time,sensor,channel,value\n"
	var want []float64
	var times []int64
	for day, format := range []string{"%.0f", "%.2f", "%.1f", "%.0f"} {
		for h := range 24 {
			at, v := begin.AddDate(0, 0, day).Add(time.Duration(h)*time.Hour), float64(h)
			if format != "%.0f" {
				v += 0.5
			}
			if format == "%.2f" {
				v += 0.25
			}
			times, want = append(times, at.UnixMicro()), append(want, v)
			text += at.Format(time.RFC3339) + ",s,1," + fmt.Sprintf(format, v) + "\n"
			text += at.Format(time.RFC3339) + ",other,1,7\n"
		}
	}
	if err := os.WriteFile(folder.Path("inbox", "a.csv"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := archive.Acquire(folder.Path("archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	reg := &fleet.Register{}
	if _, err := ingest.Import(context.Background(), l,
		ingest.Options{Site: folder, Register: reg, Now: begin.AddDate(0, 0, 5)}); err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(l.Dir())
	if err != nil {
		t.Fatal(err)
	}
	scales := map[int]bool{}
	for _, p := range a.Parts(archive.Readings) {
		scales[p.Scale] = true
	}
	if len(scales) != 3 {
		t.Fatalf("%d scales, want 3", len(scales))
	}
	name := reading.Series{Sensor: "s", Channel: "1"}
	tr := newTracks(a, reg, wanted{name: {before: all}})
	if err := tr.load(begin, begin, begin.AddDate(0, 0, 4)); err != nil {
		t.Fatal(err)
	}
	var got daily.Track
	conflicts := tr.span(&got, name, 0, math.MaxInt64, 1)
	if !slices.Equal(got.Time, times) || !slices.Equal(got.Value, want) || len(conflicts) > 0 {
		t.Errorf("%+v, want %v at %v", got, want, times)
	}
}
