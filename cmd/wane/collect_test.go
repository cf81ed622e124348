package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// collectSite is a site with a source that answers and one that does not.
func collectSite(t *testing.T) (dir string) {
	t.Helper()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("X-Key") != "s3cret-of-the-test" {
			http.Error(w, "no", http.StatusForbidden)
			return
		}
		fmt.Fprint(w, "time,sensor,channel,value\n2025-05-31T10:00:00Z,b,ppfd,600\n2025-05-31T11:00:00Z,b,ppfd,601.5\n2025-05-31T11:00:00Z,b,ppfd,x\n")
	}))
	t.Cleanup(srv.Close)
	dir = t.TempDir()
	for name, text := range map[string]string{
		"site.yaml":             "name: Invented test site\nzone: Europe/Amsterdam\nrooms:\n  veg: {on: \"06:00\", hours: 12}\n",
		"register/fixtures.csv": "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n",
		"register/sensors.csv":  "sensor,channel,quantity,unit,watches,factor,from,to\n",
		"register/logbook.csv":  "at,what,scope,id,value,note\n",
		"sources/good.yaml": "name: good\nformat: plain\ncollect: {every: 15m, http: {url: \"" + srv.URL +
			"/\", keyHeader: X-Key, key: \"env:WANE_TEST_KEY\"}}\n",
		"sources/down.yaml":    "name: down\nformat: plain\ncollect: {every: 15m, retries: 0, http: {url: \"http://127.0.0.1:1/\"}}\n",
		"sources/by-hand.yaml": "name: by-hand\nfiles: '*.dat'\nformat: plain\n",
	} {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv("WANE_TEST_KEY", "s3cret-of-the-test")
	return dir
}

func TestCollect(t *testing.T) {
	dir := collectSite(t)
	out, errs, code := wane(t, "collect", "good", "--try", "--site", dir, "--format", "csv")
	if code != exitPerson || !strings.Contains(out, "b,ppfd,2,2025-05-31T10:00:00Z,2025-05-31T11:00:00Z,601.5") ||
		!strings.Contains(errs, "a trial: nothing of this was stored") ||
		!strings.Contains(errs, "1 of 3 rows would go to quarantine") {
		t.Errorf("%d\n%s\n%s", code, out, errs)
	}
	if _, err := os.Stat(filepath.Join(dir, "spool")); !os.IsNotExist(err) {
		t.Error("a trial left a spool")
	}
	out, errs, code = wane(t, "collect", "--site", dir, "--format", "csv")
	if code != exitPerson || !strings.Contains(out, "good,http,2,1,") ||
		!strings.Contains(errs, "source down: get from 127.0.0.1:1: ") {
		t.Errorf("%d\n%s\n%s", code, out, errs)
	}
	out, errs, _ = wane(t, "ingest", "--site", dir, "--format", "csv")
	if !strings.Contains(out, "good,1,3,2,0,1,") {
		t.Errorf("ingest: %s\n%s", out, errs)
	}
	left, err := filepath.Glob(filepath.Join(dir, "spool", "*", "2*"))
	if err != nil || len(left) != 0 {
		t.Errorf("left in the spool: %v", left)
	}
	if out, errs, code = wane(t, "collect", "good", "--site", dir, "--format", "csv"); code != exitDone ||
		!strings.Contains(out, "good,http,2,1,") {
		t.Errorf("%d\n%s\n%s", code, out, errs)
	}
	if out, _, _ = wane(t, "ingest", "--site", dir, "--format", "csv"); !strings.Contains(out, ",0,") ||
		strings.Contains(out, "good,1,3,2") {
		t.Errorf("the same once more: %s", out)
	}
}

// What is asked for wrongly is told, with no connection made.
func TestCollectUsage(t *testing.T) {
	dir := collectSite(t)
	for want, args := range map[string][]string{
		`did you mean "good"`:           {"goood"},
		"sources/*.yaml with collect":   {"elsewhere"},
		"--try needs the name":          {"--try"},
		"takes one source or none":      {"good", "down"},
		`no source "by-hand" is collec`: {"by-hand"},
	} {
		if _, errs, code := wane(t, append([]string{"collect", "--site", dir}, args...)...); code != exitUsage ||
			!strings.Contains(errs, want) {
			t.Errorf("%v: %d %s", args, code, errs)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "sources", "bad.yaml"),
		[]byte("name: bad\nformat: plain\ncollect:\n  evry: 1m\n  http: {url: x, bearer: s3cret-in-the-file}\n"),
		0o644); err != nil {
		t.Fatal(err)
	}
	_, errs, code := wane(t, "collect", "--site", dir)
	if code != exitUsage || !strings.Contains(errs, "sources/bad.yaml:4:3: collect.evry: unknown key") ||
		strings.Contains(errs, "s3cret-in-the-file") {
		t.Errorf("%d %s", code, errs)
	}
}
