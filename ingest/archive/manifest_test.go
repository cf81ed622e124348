package archive

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func exampleManifest() *Manifest {
	return &Manifest{Format: Format, Originals: 7, Parts: []Part{
		{Table: Readings, Partition: "month=2026-11/day=25",
			Path: "readings/month=2026-11/day=25/scale=2/0123456789abcdef.parquet", Rows: 3, Bytes: 4, SHA256: "0123", Scale: 2,
			First: noon, Last: noon.Add(time.Hour)},
		{Table: "daily", Path: "daily/0123456789abcdef.parquet", Key: "k"},
	}}
}

func TestManifestComesBack(t *testing.T) {
	b := exampleManifest().encode()
	m, err := parseManifest(b)
	if err != nil {
		t.Fatal(err)
	}
	if string(m.encode()) != string(b) {
		t.Errorf("it came back as\n%s", m.encode())
	}
	for i := range b {
		c := append([]byte(nil), b...)
		c[i] ^= 2
		if m, err := parseManifest(c); err == nil && string(m.encode()) != string(b) {
			t.Fatalf("byte %d flipped went unnoticed", i)
		}
	}
}

func TestNewerFormatIsRefused(t *testing.T) {
	text := strings.Replace(string(exampleManifest().encode()), `"format": 2`, `"format": 3`, 1)
	if _, err := parseManifest([]byte(text)); !errors.Is(err, ErrNewer) ||
		!strings.Contains(err.Error(), "use the newer program") {
		t.Errorf("format 3: %v", err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, manifestName), []byte(text[:len(text)/2]), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir); !errors.Is(err, ErrTorn) || !strings.Contains(err.Error(), "check --repair") {
		t.Errorf("half a manifest: %v", err)
	}
}

// A manifest from outside names no file outside.
func FuzzManifest(f *testing.F) {
	f.Add(exampleManifest().encode())
	f.Add([]byte(`{"format":1,"parts":[{"table":"readings","path":"readings/../../etc"}]}`))
	f.Add([]byte(`{"format":99}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := parseManifest(b)
		if err != nil {
			return
		}
		for _, p := range m.Parts {
			if !filepath.IsLocal(p.Path) || !strings.HasPrefix(p.Path, p.Table+"/") {
				t.Errorf("part %q", p.Path)
			}
		}
	})
}

func TestPartitions(t *testing.T) {
	for _, c := range []struct {
		at     string
		latest string
		want   string
	}{
		{"2026-11-25T23:59:59.999999Z", "2026-11-01T00:00:00Z", "month=2026-11/day=25"},
		{"2026-11-01T00:00:00Z", "2026-11-30T00:00:00Z", "month=2026-11/day=01"},
		{"2026-10-31T23:59:59.999999Z", "2026-11-01T00:00:00Z", "month=2026-10/day=all"},
		{"2024-02-29T12:00:00Z", "2024-02-29T12:00:00Z", "month=2024-02/day=29"},
		{"1970-01-01T00:00:00Z", "2026-11-01T00:00:00Z", "month=1970-01/day=all"},
		{"2025-12-31T00:00:00Z", "2026-01-01T00:00:00Z", "month=2025-12/day=all"},
	} {
		at, err := time.Parse(time.RFC3339Nano, c.at)
		if err != nil {
			t.Fatal(err)
		}
		latest, err := time.Parse(time.RFC3339Nano, c.latest)
		if err != nil {
			t.Fatal(err)
		}
		p := partitionOf(at.UnixMicro(), monthIndex(latest.UnixMicro()))
		if p.hive() != c.want {
			t.Errorf("%s lies in %s, want %s", c.at, p.hive(), c.want)
		}
		if back, err := parsePartition(p.hive()); err != nil || back != p {
			t.Errorf("%s parsed as %v, %v", p.hive(), back, err)
		}
	}
	for _, s := range []string{"", "month=2026-13/day=all", "month=2026-11", "month=2026-11/day=1",
		"month=2026-11/day=01/x"} {
		if p, err := parsePartition(s); err == nil {
			t.Errorf("%q parsed as %v", s, p)
		}
	}
}

// Deriving again from the same changes no byte; what is neither kept nor
// written is gone; what was imported cannot be derived.
func TestDerive(t *testing.T) {
	dir, _ := settled(t)
	l := mustLock(t, dir)
	defer l.Release()
	one := []Column{{Name: "n", Type: Int64, Int: []int64{1}}}
	derive := func(keys ...string) *Archive {
		t.Helper()
		d, err := Derive(l, "daily", "levels")
		if err != nil {
			t.Fatal(err)
		}
		for i, key := range keys {
			part := fmt.Sprintf("month=2026-%02d", i+1)
			if d.Keep("daily", part, key) {
				continue
			}
			if _, err := d.Write("daily", part, key, one); err != nil {
				t.Fatal(err)
			}
		}
		a, err := d.Commit()
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	derive("a", "b")
	before, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	old := derive("a", "b")
	after, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := differ(before, after); d != nil {
		t.Errorf("derived again: %v", d)
	}
	gone := old.Parts("daily")[1]
	if a := derive("a"); len(a.Parts("daily")) != 1 || len(a.Parts(Readings)) == 0 {
		t.Errorf("parts %v", a.Manifest().Parts)
	}
	if _, err := old.ReadTable(gone); !errors.Is(err, ErrGone) {
		t.Errorf("a part that has gone: %v", err)
	}
	views := 0
	err = View(dir, func(a *Archive) error {
		if views++; views == 1 {
			derive("c")
		}
		for _, p := range a.Parts("daily") {
			if _, err := a.ReadTable(p); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil || views > 2 {
		t.Errorf("%d views, %v", views, err)
	}
	if _, err := Derive(l, Readings); err == nil {
		t.Error("readings can be derived")
	}
	d, err := Derive(l, "daily")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Write("daily", "", "k", []Column{{Name: "f", Type: Float64,
		Float: []float64{math.NaN()}}}); err == nil {
		t.Error("NaN was written")
	}
	if _, err := d.Write("daily", "../..", "k", one); err == nil {
		t.Error("a partition outside was written")
	}
	if err := DropDerived(l); err != nil {
		t.Fatal(err)
	}
	a, err := Open(dir)
	if err != nil || len(a.Parts("daily")) != 0 || len(a.Parts(Readings)) == 0 {
		t.Errorf("after the drop: %v, %v", a.Manifest().Parts, err)
	}
	if f := findings(t, dir); f != nil {
		t.Error(f)
	}
}

// What a derivation that was given up has in the making, or is still writing, is
// in nobody's way: the next one under the same lock has names of its own.
func TestDeriveAfterOneGivenUp(t *testing.T) {
	dir, _ := settled(t)
	l := mustLock(t, dir)
	defer l.Release()
	given, err := Derive(l, "daily")
	if err != nil {
		t.Fatal(err)
	}
	left, err := given.w.create()
	if err != nil {
		t.Fatal(err)
	}
	defer left.Discard()
	next, err := Derive(l, "daily")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := next.Write("daily", "", "k", []Column{{Name: "n", Type: Int64, Int: []int64{1}}}); err != nil {
		t.Fatal(err)
	}
	a, err := next.Commit()
	if err != nil || len(a.Parts("daily")) != 1 {
		t.Errorf("%v, %v", a, err)
	}
}
