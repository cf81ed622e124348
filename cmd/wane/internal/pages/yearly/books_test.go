package yearly

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/yearly"
)

// The cut-down register answers as the whole one does, moves included.
func TestBooksLeaveNothingOut(t *testing.T) {
	start := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		reg := &fleet.Register{}
		bays := []string{"a1", "a2", "b1"}
		for i := range 4 {
			bay := bays[i%3]
			reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: string(rune('p' + i)), Room: bay[:1], Bay: bay, Circuit: "c" + bay})
		}
		for range rapid.IntRange(0, 25).Draw(t, "lines") {
			e := fleet.Entry{At: start.AddDate(0, 0, rapid.IntRange(0, 300).Draw(t, "day")), What: rapid.SampledFrom(fleet.Whats).Draw(t, "what"), Scope: rapid.SampledFrom(fleet.Scopes).Draw(t, "scope")}
			switch e.Scope {
			case fleet.OfRoom:
				e.ID = rapid.SampledFrom([]string{"a", "b"}).Draw(t, "room")
			case fleet.OfBay:
				e.ID = rapid.SampledFrom(bays).Draw(t, "bay")
			case fleet.OfCircuit:
				e.ID = "c" + rapid.SampledFrom(bays).Draw(t, "circuit")
			case fleet.OfFixture:
				e.ID = string(rune('p' + rapid.IntRange(0, 3).Draw(t, "fixture")))
			}
			if e.What == fleet.Move {
				e.Scope, e.ID, e.Value = fleet.OfFixture, string(rune('p'+rapid.IntRange(0, 3).Draw(t, "mover"))), rapid.SampledFrom(bays).Draw(t, "to")
			}
			reg.Logbook = append(reg.Logbook, e)
		}
		reg.Sort()
		b := newBooks(reg)
		for i := range reg.Fixtures {
			f := &reg.Fixtures[i]
			sub := b.of(f)
			if d := cmp.Diff(reg.Events(f), sub.Events(f)); d != "" {
				t.Fatalf("%s: events: %s", f.ID, d)
			}
			if d := cmp.Diff(reg.Lives(f), sub.Lives(f)); d != "" {
				t.Fatalf("%s: lives: %s", f.ID, d)
			}
			at := start.AddDate(0, 0, 200)
			if d := cmp.Diff(reg.PlaceAt(f, at), sub.PlaceAt(f, at)); d != "" {
				t.Fatalf("%s: place: %s", f.ID, d)
			}
		}
	})
}

func TestFoldersStayApartWhateverTheName(t *testing.T) {
	taken := map[string]bool{}
	seen := map[string]bool{}
	for _, id := range []string{"f1", "F1", "../f1", "_.f1", "a/b", "a_b", "", "lampe é"} {
		n := folderName(id, 1, taken)
		if seen[n] || filepath.Base(n) != n || n == ".." {
			t.Errorf("%q gives %q", id, n)
		}
		seen[n] = true
	}
}

func TestBoundsAreSaidAsBounds(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		e    estimate.Estimate
		want string
	}{
		{estimate.Estimate{Centre: 5000, Lo: 4000, Hi: 6000}, "5,000|4,000 to 6,000"},
		{estimate.Estimate{Centre: 5000, Lo: 4000, Hi: inf}, "5,000|from 4,000, open above"},
		{estimate.None("m", "too few"), "not known|"},
		{func() estimate.Estimate { e := estimate.None("m", ""); e.Lo, e.Hi = 4000, inf; return e }(), "more than 4,000|"},
		{func() estimate.Estimate { e := estimate.None("m", ""); e.Lo, e.Hi = 0, inf; return e }(), "not known|"},
	} {
		if got := written(c.e, inHours); got.Text+"|"+got.Interval != c.want {
			t.Errorf("%+v is written %+v", c.e, got)
		}
	}
}

// Warnings become notes below the table, each once.
func TestNotesAreSaidOnce(t *testing.T) {
	tab := newTable("x", "x", "", "A", "#B")
	v := yearly.Value{Estimate: estimate.Estimate{Centre: 1, Lo: 0, Hi: 2, Level: 0.95, N: 3, Method: "m", Warnings: []string{"few lamps"}}}
	a, b := tab.value(v, places(1)), tab.value(v, places(1))
	if len(tab.Notes) != 1 || len(tab.Methods) != 1 || a.Marks[0] != 1 || b.Marks[0] != 1 || a.Small != "n = 3" {
		t.Errorf("%+v %+v %+v", tab, a, b)
	}
}

// What an earlier summary left goes; what is the same is not touched.
func TestWriteReplacesTheWholeFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "y")
	if err := Write(dir, map[string][]byte{"a/b.csv": []byte("1"), "c.txt": []byte("2"), "manifest.sha256": []byte("m")}); err != nil {
		t.Fatal(err)
	}
	was, err := os.Stat(filepath.Join(dir, "c.txt"))
	if err != nil {
		t.Fatal(err)
	}
	if err := Write(dir, map[string][]byte{"c.txt": []byte("2"), "manifest.sha256": []byte("n")}); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "a")); !os.IsNotExist(err) {
		t.Error("a folder of the earlier summary is still there")
	}
	now, err := os.Stat(filepath.Join(dir, "c.txt"))
	if err != nil || !os.SameFile(was, now) {
		t.Errorf("a file that holds the same was written again: %v", err)
	}
}
