package ingest

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"wane/ingest/archive"
	"wane/transform/fleet"
)

const header = "time,sensor,channel,value\n"

// What is no file of its own is left with words, and the rest goes in.
func TestLinksAndDevicesAreLeft(t *testing.T) {
	folder := newSite(t, map[string]string{"good.csv": header + "2026-11-24T23:00:00Z,a,1,1\n"})
	outside := filepath.Join(t.TempDir(), "secret.csv")
	put(t, outside, header+"2026-11-24T23:00:00Z,secret,1,1\n")
	inbox := func(name string) string { return folder.Path("inbox", name) }
	if err := os.Symlink(outside, inbox("link.csv")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Dir(outside), inbox("folder")); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(inbox("pipe.csv"), 0o644); err != nil {
		t.Fatal(err)
	}
	s := importRound(t, folder, Options{})
	if s.Files != 1 || s.All.Stored != 1 || len(s.Left) != 3 {
		t.Fatalf("%+v", s)
	}
	for _, name := range []string{"link.csv", "folder", "pipe.csv"} {
		if !slices.ContainsFunc(s.Left, func(l string) bool { return strings.HasPrefix(l, name+": not a regular file") }) {
			t.Errorf("%s: %q", name, s.Left)
		}
		if _, err := os.Lstat(inbox(name)); err != nil {
			t.Error(err)
		}
	}
	if _, err := os.Stat(outside); err != nil {
		t.Error("what a link points to was removed")
	}
	sound(t, folder)
}

// A file and a folder that may not be read are named, and the rest goes in. Who
// may read everything imports them as well.
func TestNoPermission(t *testing.T) {
	folder := newSite(t, map[string]string{
		"good.csv":     header + "2026-11-24T23:00:00Z,a,1,1\n",
		"secret.csv":   header + "2026-11-24T23:05:00Z,a,1,1\n",
		"closed/x.csv": header + "2026-11-24T23:10:00Z,a,1,1\n",
	})
	for _, name := range []string{"secret.csv", "closed"} {
		if err := os.Chmod(folder.Path("inbox", name), 0); err != nil {
			t.Fatal(err)
		}
	}
	defer os.Chmod(folder.Path("inbox", "closed"), 0o755)
	s := importRound(t, folder, Options{})
	if os.Geteuid() == 0 {
		if s.All.Stored != 3 || len(s.Left)+len(s.Notes) != 0 {
			t.Errorf("%+v", s)
		}
		return
	}
	if s.All.Stored != 1 || len(s.Left) != 1 || !strings.Contains(s.Left[0], "permission denied") || len(s.Notes) != 1 ||
		!strings.Contains(s.Notes[0], "nothing of that folder was imported") {
		t.Errorf("%+v", s)
	}
}

// A file that another program has open for writing is left for the next round,
// and imported then as a whole.
func TestFileStillBeingWritten(t *testing.T) {
	folder := newSite(t, map[string]string{"good.csv": header + "2026-11-24T23:00:00Z,a,1,1\n"})
	f, err := os.Create(folder.Path("inbox", "upload.csv"))
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(f, header+"2026-11-24T23:05:00Z,a,1,2\n")
	s := importRound(t, folder, Options{})
	if s.All.Stored != 1 || len(s.Left) != 1 || !strings.Contains(s.Left[0],
		"upload.csv: still being written; it is left for the next round") {
		t.Fatalf("%+v", s)
	}
	fmt.Fprint(f, "2026-11-24T23:10:00Z,a,1,3\n")
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if s = importRound(t, folder, Options{}); s.All.Stored != 2 || len(s.Left) != 0 {
		t.Fatalf("%+v", s)
	}
	sound(t, folder)
}

// The machine's clock set back by a month between two rounds changes nothing of
// what is known: neither order nor law nor sameness.
func TestClockSetBack(t *testing.T) {
	folder := newSite(t, map[string]string{"a.csv": header + "2026-11-24T23:00:00Z,a,1,1\n2026-11-24T23:05:00Z,a,1,2\n"})
	importRound(t, folder, Options{})
	put(t, folder.Path("inbox", "b.csv"), header+"2026-10-20T23:00:00Z,a,1,1\n2026-11-24T23:05:00Z,a,1,2\n")
	back := now.AddDate(0, -1, 0)
	var s *Summary
	locked(t, folder, func(l *archive.Lock) {
		var err error
		if s, err = Import(t.Context(), l, Options{Site: folder, Now: back}); err != nil {
			t.Fatal(err)
		}
	})
	// By hand: one reading is new; the other lies in the future of that clock.
	if s.All.Rows != 2 || s.All.Stored != 1 || s.All.Quarantined != 1 {
		t.Fatalf("%+v", s.All)
	}
	put(t, folder.Path("inbox", "c.csv"), header+"2026-11-24T23:05:00Z,a,1,2\n2026-11-24T23:10:00Z,a,1,3\n")
	if s = importRound(t, folder, Options{}); s.All.Stored != 1 || s.All.Duplicate != 1 {
		t.Fatalf("%+v", s.All)
	}
	sound(t, folder)
	before := bytesOf(t, folder)
	locked(t, folder, func(l *archive.Lock) {
		if _, err := Rebuild(t.Context(), l); err != nil {
			t.Fatal(err)
		}
	})
	same(t, "rebuilt", before, bytesOf(t, folder))
}

// A logger whose clock was set back within a file is told with the place; files
// that run newest first, or in no order at all, are not.
func TestTimeThatTurns(t *testing.T) {
	rows := func(minutes ...int) string {
		text := header
		for i, m := range minutes {
			text += fmt.Sprintf("%s,a,1,%d\n", now.Add(time.Duration(m-9000)*time.Minute).Format(time.RFC3339), i)
		}
		return text
	}
	var up, down, set, mixed []int
	for i := range 40 {
		up, down, mixed = append(up, 5*i), append(down, 5000-5*i), append(mixed, 2000+5*(i*17%40))
		m := 7000 + 5*i
		if i >= 20 {
			m -= 63
		}
		set = append(set, m)
	}
	folder := newSite(t, map[string]string{"up.csv": rows(up...), "down.csv": rows(down...), "set.csv": rows(set...),
		"mixed.csv": rows(mixed...)})
	s := importRound(t, folder, Options{})
	if len(s.Order) != 1 || !strings.HasPrefix(s.Order[0], "set.csv: time runs back by 58m0s at line 22, from ") {
		t.Errorf("%q", s.Order)
	}
	if s.All.Stored != 160 {
		t.Errorf("%+v", s.All)
	}
}

// A series that nobody registered is kept; once it is, it is known without the
// file being sent again.
func TestUnknownSeriesAreKept(t *testing.T) {
	folder := newSite(t, map[string]string{"a.csv": header + "2026-11-24T23:00:00Z,a,1,1\n2026-11-24T23:00:00Z,b,1,1\n"})
	reg := &fleet.Register{Sensors: []fleet.SensorPeriod{{Sensor: "a", Channel: "1"}}}
	s := importRound(t, folder, Options{Register: reg})
	if !slices.Equal(s.Unknown, []string{"b/1"}) || s.All.Stored != 2 {
		t.Fatalf("%+v", s)
	}
	a, err := archive.Open(folder.Path("archive"))
	if err != nil {
		t.Fatal(err)
	}
	reg.Sensors = append(reg.Sensors, fleet.SensorPeriod{Sensor: "b", Channel: "1"})
	if left, err := Unknown(a, reg); err != nil || len(left) != 0 {
		t.Errorf("%v %v", left, err)
	}
}
