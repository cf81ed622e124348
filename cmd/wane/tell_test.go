package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// inbox is a webhook's other end, for a site's night.
type inbox struct {
	mu   sync.Mutex
	down bool
	got  []struct{ ID, Kind, Subject, Text string }
}

func (b *inbox) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var m struct{ ID, Kind, Subject, Text string }
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil || b.down {
		w.WriteHeader(http.StatusServiceUnavailable)
		return
	}
	b.got = append(b.got, m)
}

// fresh gives the kinds of what came since the last call.
func (b *inbox) fresh() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var kinds []string
	for _, m := range b.got {
		kinds = append(kinds, m.Kind)
	}
	b.got = nil
	return strings.Join(kinds, " ")
}

// telling is a site of 430 days that tells a webhook.
func telling(t *testing.T, more string) (dir string, b *inbox) {
	t.Helper()
	dir, b = t.TempDir(), &inbox{}
	plainSite(t, dir, 430, never)
	s := httptest.NewServer(b)
	t.Cleanup(s.Close)
	appendTo(t, dir, "site.yaml", fmt.Sprintf("tell:\n  webhook: {url: %q, secret: env:WANE_TEST_HOOK}\n%s", s.URL, more))
	return dir, b
}

// hours writes hourly readings of the four lamps for a day of 2025, lit or not.
func hours(t *testing.T, dir, date string, lit func(fixture int) bool) {
	t.Helper()
	start, err := time.Parse(time.DateOnly, date)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString("time,sensor,channel,value\n")
	for h := range 24 {
		for i := 1; i <= 4; i++ {
			v := 0.0
			if h >= 5 && h < 17 && lit(i) {
				v = 700 + float64(h%3)
			}
			fmt.Fprintf(&b, "%s,log,%d,%.1f\n", start.Add(time.Duration(h)*time.Hour).Format(time.RFC3339), i, v)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "inbox", date+".csv"), []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

func aNight(t *testing.T, dir string, want int) string {
	t.Helper()
	out, errs, code := wane(t, "nightly", "--site", dir)
	if code != want {
		t.Fatalf("nightly ends with %d, want %d: %s%s", code, want, out, errs)
	}
	if strings.Contains(errs, "xyzzy") {
		t.Errorf("the key is shown: %s", errs)
	}
	return errs
}

// A night tells what is new, the next one nothing; a bay that went dark, a logger
// that fell silent and a night that failed are told at once, each once.
func TestNightsTell(t *testing.T) {
	t.Parallel()
	dir, b := telling(t, "")
	aNight(t, dir, exitPerson)
	b.mu.Lock()
	if len(b.got) != 1 || !strings.Contains(b.got[0].Text, "f4 (bay veg-a): dark and not replaced") {
		t.Errorf("%+v", b.got)
	}
	b.mu.Unlock()
	b.fresh()
	aNight(t, dir, exitPerson)
	if got := b.fresh(); got != "" {
		t.Errorf("nothing is new, and %s came", got)
	}
	// 430 days from 1 January 2024 end with 5 March 2025
	hours(t, dir, "2025-03-06", func(i int) bool { return i < 4 })
	aNight(t, dir, exitPerson)
	if got := b.fresh(); strings.Contains(got, "alarm") {
		t.Errorf("a day like any other alarms: %s", got)
	}
	hours(t, dir, "2025-03-07", func(int) bool { return false })
	aNight(t, dir, exitPerson)
	b.mu.Lock()
	if len(b.got) == 0 || b.got[0].Kind != "alarm" ||
		!strings.Contains(b.got[0].Subject, "bay dark, bay veg-a, room veg") {
		t.Errorf("a dark bay tells %+v", b.got)
	}
	b.mu.Unlock()
	b.fresh()
	aNight(t, dir, exitPerson)
	if got := b.fresh(); strings.Contains(got, "alarm") {
		t.Errorf("a dark bay alarms twice: %s", got)
	}

	pages := filepath.Join(dir, "reports")
	if err := os.Rename(pages, pages+"-away"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(pages, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	aNight(t, dir, exitFailed)
	if got := b.fresh(); !strings.HasPrefix(got, "alarm") {
		t.Errorf("a failed night tells %q", got)
	}
	aNight(t, dir, exitFailed)
	if got := b.fresh(); got != "" {
		t.Errorf("a night that fails again tells %q", got)
	}
}

// A logbook that says so keeps a bay from counting as dark.
func TestAnOutageIsNoAlarm(t *testing.T) {
	t.Parallel()
	dir, b := telling(t, "")
	hours(t, dir, "2025-03-06", func(int) bool { return false })
	appendTo(t, dir, "register/logbook.csv", "2025-03-06,outage,room,veg,2025-03-08,\n")
	aNight(t, dir, exitPerson)
	if got := b.fresh(); got != "digest" {
		t.Errorf("told is %q", got)
	}
}

// Who cannot be told now is told later, once; the night is done all the same and
// says that it needs a person.
func TestNightsTellLater(t *testing.T) {
	t.Parallel()
	dir, b := telling(t, "")
	b.down = true
	if errs := aNight(t, dir, exitPerson); !strings.Contains(errs, "not yet told by webhook") {
		t.Errorf("%s", errs)
	}
	b.down = false
	e := env{now: func() time.Time { return time.Date(2025, 6, 1, 2, 17, 0, 0, time.UTC) }} // two minutes later
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := tellAgain(t.Context(), o.folder, e); err != nil {
			t.Fatal(err)
		}
	}
	if got := b.fresh(); got != "digest" {
		t.Errorf("told is %q", got)
	}
}

// A weekly digest goes with the first night, or in the minute, after its time.
func TestWeeklyDigest(t *testing.T) {
	t.Parallel()
	dir, b := telling(t, "  digest: \"0 7 * * 1\"\n")
	aNight(t, dir, exitPerson) // Sunday, 1 June 2025
	if got := b.fresh(); got != "" {
		t.Errorf("before its time told is %q", got)
	}
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ hour, want string }{{"06:59", ""}, {"07:00", "digest"}, {"07:01", ""}} {
		at, err := time.ParseInLocation("2006-01-02 15:04", "2025-06-02 "+c.hour, o.Config.Location)
		if err != nil {
			t.Fatal(err)
		}
		if err := tellAgain(t.Context(), o.folder, env{now: func() time.Time { return at }}); err != nil {
			t.Fatal(err)
		}
		if got := b.fresh(); got != c.want {
			t.Errorf("on Monday at %s told is %q, want %q", c.hour, got, c.want)
		}
	}
}
