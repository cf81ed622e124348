package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A night without the report answers the same, levels and decline included, and
// leaves the pages alone; the report, when it is made, leaves the site as a night with it does.
func TestReportApart(t *testing.T) {
	t.Parallel()
	whole, apart := t.TempDir(), t.TempDir()
	for _, dir := range []string{whole, apart} {
		plainSite(t, dir, 420, never)
	}
	run := func(args ...string) string {
		t.Helper()
		out, errs, code := wane(t, args...)
		if code != exitDone && code != exitPerson {
			t.Fatalf("%v: %d %s", args, code, errs)
		}
		return out
	}
	run("nightly", "--site", whole)
	run("nightly", "--no-report", "--site", apart)
	if _, err := os.Stat(filepath.Join(apart, "reports", "index.html")); err == nil {
		t.Error("pages were written")
	}
	for _, asked := range []string{"due", "decline", "levels"} {
		if diff := cmp.Diff(run(asked, "--format", "csv", "--site", whole),
			run(asked, "--format", "csv", "--site", apart)); diff != "" {
			t.Errorf("%s: the answers differ:\n%s", asked, diff)
		}
	}
	run("report", "--site", apart)
	if diff := cmp.Diff(contents(t, whole), contents(t, apart)); diff != "" {
		t.Errorf("a night with the report (-), and with it made later (+)\n%s", diff)
	}
}

// contents gives what is derived and the reports of a site, file by file. The
// ledger of files is left out: it knows the time at which they were taken in.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, part := range []string{"archive/daily", "archive/hours", "archive/lives", "archive/levels", "archive/weeks",
		"archive/due", "reports"} {
		for name, body := range hashes(t, filepath.Join(dir, filepath.FromSlash(part))) {
			out[part+"/"+name] = body
		}
	}
	return out
}
