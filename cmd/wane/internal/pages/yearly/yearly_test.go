package yearly

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"wane/transform/estimate"
	"wane/transform/yearly"
)

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
	v := yearly.Value{Estimate: estimate.Estimate{Centre: 1, Lo: 0, Hi: 2, Level: 0.95, N: 3, Method: "m",
		Warnings: []string{"few lamps"}}}
	a, b := tab.value(v, places(1)), tab.value(v, places(1))
	if len(tab.Notes) != 1 || len(tab.Methods) != 1 || a.Marks[0] != 1 || b.Marks[0] != 1 || a.Small != "n = 3" {
		t.Errorf("%+v %+v %+v", tab, a, b)
	}
}

// What an earlier summary left goes; what is the same is not touched.
func TestWriteReplacesTheWholeFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "y")
	if err := Write(dir, map[string][]byte{"a/b.csv": []byte("1"), "c.txt": []byte("2"),
		"manifest.sha256": []byte("m")}); err != nil {
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
