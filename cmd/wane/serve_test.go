package main

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"wane/cmd/wane/internal/night"
	"wane/cmd/wane/internal/serve"
	"wane/ingest/site"
)

// served is a site of 60 days after a night, asked at the time that now gives.
func served(t *testing.T, now *time.Time) (dir string, s *httptest.Server) {
	t.Helper()
	dir = t.TempDir()
	plainSite(t, dir, 60, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	s = httptest.NewServer(pages(o, env{now: func() time.Time { return *now }})) // 127.0.0.1
	t.Cleanup(s.Close)
	return dir, s
}

func ask(t *testing.T, r *http.Request) (*http.Response, string) {
	t.Helper()
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return a, string(b)
}

func get(t *testing.T, url string) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	return ask(t, r)
}

// A site that has no reading yet is not days behind: it says that none has come.
func TestHealthOfASiteWithoutReadings(t *testing.T) {
	site := filepath.Join(t.TempDir(), "site")
	for _, args := range [][]string{{"new", site, "--name", "Invented", "--zone", "UTC"}, {"nightly", "--site", site}} {
		if _, out, code := wane(t, args...); code != exitDone {
			t.Fatalf("%v: exit %d: %s", args, code, out)
		}
	}
	out, told, code := wane(t, "status", "--site", site)
	if code != exitPerson || !strings.Contains(told, "no reading has come yet") || !strings.Contains(out, "none yet") ||
		strings.Contains(out+told, "behind") {
		t.Errorf("exit %d: %s%s", code, out, told)
	}
}

func TestServePagesHealthAndMetrics(t *testing.T) {
	now := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	_, s := served(t, &now)
	if a, body := get(t, s.URL+"/"); a.StatusCode != 200 || !strings.Contains(body, "Invented test site") {
		t.Errorf("pages: %d %.80s", a.StatusCode, body)
	}
	if a, body := get(t, s.URL+"/health"); a.StatusCode != 200 ||
		!strings.HasPrefix(body, "last day read 2024-03-01, 0 days ago\n") {
		t.Errorf("health: %d %s", a.StatusCode, body)
	}
	_, body := get(t, s.URL+"/metrics")
	// By hand: 60 days of 24 rows of 5 series, all new, none refused; the run's clock stood still at 02:15 UTC.
	for _, line := range []string{
		"wane_rows_stored 7200", "wane_days_behind 0", "wane_healthy 1", "wane_night_rows 7200",
		"wane_night_rows_quarantined 0",
		"wane_night_start_seconds 1.7487441e+09", "wane_night_end_seconds 1.7487441e+09",
	} {
		if !strings.Contains(body, "\n"+line+"\n") {
			t.Errorf("metrics lack %q:\n%s", line, body)
		}
	}
	if a, body := get(t, s.URL+"/plan.ics"); a.Header.Get("Content-Type") != "text/calendar; charset=utf-8" ||
		!strings.HasPrefix(body, "BEGIN:VCALENDAR") || !strings.Contains(body,
		"\nREFRESH-INTERVAL;VALUE=DURATION:PT12H\r\n") {
		t.Errorf("calendar: %v %.80s", a.Header, body)
	}
	if a, _ := get(t, s.URL+"/../site.yaml"); a.StatusCode == 200 {
		t.Error("the site folder itself is served")
	}
	now = now.AddDate(0, 0, 9)
	if a, body := get(t, s.URL+"/health"); a.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("a silent site is healthy: %d %s", a.StatusCode, body)
	}
}

// A night that failed, one that was cut off and one that never came leave the
// site unhealthy, and the next good one mends that. The check is told too.
func TestHealthTellsOfTheLastNight(t *testing.T) {
	now := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	dir, s := served(t, &now)
	health := func(code int, words string) {
		t.Helper()
		a, body := get(t, s.URL+"/health")
		_, metrics := get(t, s.URL+"/metrics")
		want := fmt.Sprintf("\nwane_healthy %d\n", map[bool]int{true: 1}[code == 200])
		if a.StatusCode != code || !strings.Contains(body, words) || !strings.Contains(metrics, want) {
			t.Errorf("%d, should be %d with %q:\n%s%s", a.StatusCode, code, words, body, metrics)
		}
	}
	health(200, "last night began 2025-06-01T02:15:00Z, ended 2025-06-01T02:15:00Z with exit ")

	reports := filepath.Join(dir, "reports")
	if err := os.Rename(reports, reports+"-away"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(reports, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, _, code := wane(t, "nightly", "--site", dir); code != exitFailed {
		t.Fatalf("a night without a place for its pages ends with %d", code)
	}
	health(503, "not healthy: the last night failed with exit 1: ")
	if err := os.Remove(reports); err != nil {
		t.Fatal(err)
	}
	if _, _, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("%d", code)
	}
	health(200, "")

	// A process that is no more: its number was that of a child that has ended.
	cut := night.Record{Start: now, PID: ended(t)}
	if err := cut.Save(site.Folder(dir)); err != nil {
		t.Fatal(err)
	}
	health(503, "cut off before its end")
	running := night.Record{Start: now, PID: os.Getpid()}
	if err := running.Save(site.Folder(dir)); err != nil {
		t.Fatal(err)
	}
	health(200, "is running")

	// The next slot after 12:00 in Amsterdam is 02:15 there, 01:15 UTC; 3 h are let pass.
	done := night.Record{Start: now, End: now}
	if err := done.Save(site.Folder(dir)); err != nil {
		t.Fatal(err)
	}
	now = time.Date(2024, 3, 2, 4, 15, 0, 0, time.UTC)
	health(200, "")
	now = now.Add(time.Second)
	health(503, "the night of 2024-03-02T02:15:00+01:00 is missing")
	now = done.Start

	if _, _, code := wane(t, "check", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatal(code)
	}
	health(200, "last check 2025-06-01T02:15:00Z, 0 damaged places")
	if err := (night.Check{At: now, Findings: 2}).Save(site.Folder(dir)); err != nil {
		t.Fatal(err)
	}
	health(503, "the last check found 2 damaged places")
}

// ended is the number of a process that has ended.
func ended(t *testing.T) int {
	t.Helper()
	p, err := os.StartProcess("/proc/self/exe", []string{"wane", "-test.run=^$"}, &os.ProcAttr{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.Wait(); err != nil {
		t.Fatal(err)
	}
	return p.Pid
}

// Who asks by another name than the address listened on, as a page elsewhere
// does whose name was made to point here, gets nothing.
func TestServeAnswersItsOwnNameOnly(t *testing.T) {
	now := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	_, s := served(t, &now)
	_, port, err := net.SplitHostPort(strings.TrimPrefix(s.URL, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	for host, want := range map[string]int{
		"127.0.0.1:" + port: 200, "localhost:" + port: 200, "LOCALHOST:" + port: 200,
		"attacker.example:" + port: 421, "127.0.0.1:1": 421, "127.0.0.1": 421, "localhost": 421, "127.0.0.2:" + port: 421,
		"localhost.attacker.example:" + port: 421, "[::1]:" + port: 421, "0.0.0.0:" + port: 421, "": 421,
	} {
		for _, path := range []string{"/", "/health", "/metrics"} {
			c, err := net.Dial("tcp", "127.0.0.1:"+port)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n", path, host)
			b, err := io.ReadAll(c)
			c.Close()
			if err != nil || !strings.HasPrefix(string(b), fmt.Sprintf("HTTP/1.1 %d ", want)) || want != 200 &&
				strings.Contains(string(b), "Invented") {
				t.Errorf("host %q, %s: %v %.40q, should be %d", host, path, err, b, want)
			}
		}
	}
	r, err := http.NewRequest(http.MethodPost, s.URL+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	if a, _ := ask(t, r); a.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("a post is answered %d", a.StatusCode)
	}
}

var (
	styleElement = regexp.MustCompile(`(?s)<style>(.*?)</style>`)
	ownScript    = regexp.MustCompile(`<script src="(\.\./)?wane\.js" data-root="(\.\./)?" defer="defer"></script>`)
	inline       = regexp.MustCompile(`(?i)<script|\sstyle\s*=|\son[a-z]+\s*=|javascript:`)
)

// The policy lets nothing run that is written into a page, and no style but the
// pages' own; no page of the report needs more than the files beside it.
func TestServePolicyIsStrictAndHolds(t *testing.T) {
	now := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	dir, s := served(t, &now)
	if _, errs, code := wane(t, "yearly", "2024", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("yearly: %d %s", code, errs)
	}
	pages := 0
	err := filepath.WalkDir(filepath.Join(dir, "reports"), func(path string, d os.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".html" {
			return err
		}
		rel, err := filepath.Rel(filepath.Join(dir, "reports"), path)
		if err != nil {
			return err
		}
		pages++
		a, body := get(t, s.URL+"/"+filepath.ToSlash(rel))
		policy := a.Header.Get("Content-Security-Policy")
		if a.StatusCode != 200 || strings.Contains(policy, "unsafe") || !strings.HasPrefix(policy, "default-src 'none'; ") ||
			!strings.Contains(policy, "script-src 'self';") {
			t.Errorf("%s: %d %q", rel, a.StatusCode, policy)
		}
		if bad := inline.FindString(ownScript.ReplaceAllString(body, "")); bad != "" {
			t.Errorf("%s needs what the policy forbids: %s", rel, bad)
		}
		for _, m := range styleElement.FindAllStringSubmatch(body, -1) {
			h := sha256.Sum256([]byte(m[1]))
			if name := "'sha256-" + base64.StdEncoding.EncodeToString(h[:]) + "'"; !strings.Contains(policy, name) {
				t.Errorf("%s: the policy forbids its style", rel)
			}
		}
		return nil
	})
	if err != nil || pages < 7 {
		t.Errorf("%d pages, %v", pages, err)
	}
}

// No link is followed, no folder listed, nothing in the making or irregular served.
func TestServeStaysInItsFolder(t *testing.T) {
	now := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	dir, s := served(t, &now)
	reports := filepath.Join(dir, "reports")
	outside := t.TempDir()
	for _, err := range []error{
		os.WriteFile(filepath.Join(outside, "secret.html"), []byte("secret"), 0o644),
		os.Symlink(filepath.Join(outside, "secret.html"), filepath.Join(reports, "out.html")),
		os.Symlink(outside, filepath.Join(reports, "away")),
		os.Symlink("index.html", filepath.Join(reports, "within.html")),
		os.WriteFile(filepath.Join(reports, ".writing-1"), []byte("half"), 0o644),
		syscall.Mkfifo(filepath.Join(reports, "pipe.html"), 0o644),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, path := range []string{
		"/out.html", "/away/secret.html", "/within.html", "/fixtures/", "/fixtures", "/.writing-1", "/pipe.html",
		"/..%2fsite.yaml", "/%2e%2e/site.yaml", "/nothing.html", "/index.html/",
	} {
		if a, body := get(t, s.URL+path); a.StatusCode != http.StatusNotFound || strings.Contains(body, "secret") {
			t.Errorf("%s: %d %.80q", path, a.StatusCode, body)
		}
	}
	if a, _ := get(t, s.URL+"/fixtures/f1.html"); a.StatusCode != 200 {
		t.Errorf("a fixture's page: %d", a.StatusCode)
	}
}

// Somebody who asks and does not read holds up the end for seconds only.
func TestServeEndsThoughSomebodyReadsSlowly(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	asked := make(chan struct{})
	endless := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		close(asked)
		for {
			if _, err := w.Write(make([]byte, 1<<16)); err != nil {
				return
			}
		}
	})
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- serve.Until(ctx, l, endless) }()
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: %s\r\n\r\n", l.Addr())
	<-asked
	stop()
	if err := <-ended; err != nil { // hangs where the reader is waited for
		t.Error(err)
	}
}

func TestServeOnlyOnLoopback(t *testing.T) {
	_, errs, code := wane(t, "serve", "--address", "0.0.0.0:0")
	if code != exitUsage || !strings.Contains(errs, "not a loopback address") {
		t.Errorf("%d %s", code, errs)
	}
}
