package batch

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/ingest/archive"
)

// A site whose days are too many to be held gets the same tables, plan and
// pages, byte for byte.
func TestGreatSiteIsReportedTheSame(t *testing.T) {
	folder, s, _ := invent(t, 5, 200)
	s.Hash = "written"
	dir := string(folder)
	made := map[bool]map[string]string{}
	for _, great := range []bool{false, true} {
		if great {
			s.HoldDays = 1
			forget(t, dir)
		}
		_, err := Run(context.Background(), Options{Folder: folder, Site: s, Now: today.Add(3 * time.Hour), Skip: great})
		if err != nil {
			t.Fatal(err)
		}
		made[great] = hashes(t, dir)
	}
	if d := cmp.Diff(made[false], made[true]); d != "" || len(made[true]) < 60 {
		t.Errorf("%d files; held (-), read again (+)\n%s", len(made[true]), d)
	}
}

// forget removes all that is derived, and the pages.
func forget(t *testing.T, dir string) {
	t.Helper()
	l, err := archive.Acquire(filepath.Join(dir, "archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(archive.DropDerived(l), l.Release(), os.RemoveAll(filepath.Join(dir, "reports"))); err != nil {
		t.Fatal(err)
	}
}

// hashes is of every file of reports and of the manifest, which names every
// part by its hash.
func hashes(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	add := func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		out[path] = fmt.Sprintf("%x", sha256.Sum256(b))
		return err
	}
	for _, part := range []string{"reports", "archive/manifest.json"} {
		if err := filepath.WalkDir(filepath.Join(dir, filepath.FromSlash(part)), add); err != nil {
			t.Fatal(err)
		}
	}
	return out
}
