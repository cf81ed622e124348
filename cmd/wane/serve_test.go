package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func TestServePagesHealthAndMetrics(t *testing.T) {
	dir := t.TempDir()
	plainSite(t, dir, 60, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	s := httptest.NewServer(pages(o, env{now: func() time.Time { return now }})) // 127.0.0.1
	defer s.Close()
	get := func(path string) (int, string) {
		r, err := http.Get(s.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return r.StatusCode, string(b)
	}
	if code, body := get("/"); code != 200 || !strings.Contains(body, "Invented test site") {
		t.Errorf("pages: %d %.80s", code, body)
	}
	if code, body := get("/health"); code != 200 || body != "last day read 2024-03-01, 0 days ago\n" {
		t.Errorf("health: %d %s", code, body)
	}
	if _, body := get("/metrics"); !strings.Contains(body, "\nwane_rows_stored 7200\n") || !strings.Contains(body, "wane_days_behind 0") {
		t.Errorf("metrics: %s", body)
	}
	if code, _ := get("/../site.yaml"); code == 200 {
		t.Error("the site folder itself is served")
	}
	now = now.AddDate(0, 0, 9)
	if code, body := get("/health"); code != http.StatusServiceUnavailable {
		t.Errorf("a silent site is healthy: %d %s", code, body)
	}
}

func TestServeOnlyOnLoopback(t *testing.T) {
	_, errs, code := wane(t, "serve", "--address", "0.0.0.0:0")
	if code != exitUsage || !strings.Contains(errs, "not a loopback address") {
		t.Errorf("%d %s", code, errs)
	}
}
