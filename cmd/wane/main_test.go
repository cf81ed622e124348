package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// The program under its own name, so that scripts run it as a stranger would. Sites
// of the tests, which run side by side, name keys that the environment holds for all.
func TestMain(m *testing.M) {
	for name, value := range map[string]string{"WANE_TEST_ACCESS": "k", "WANE_TEST_SECRET": "s",
		"WANE_TEST_HOOK": "xyzzy"} {
		if err := os.Setenv(name, value); err != nil {
			panic(err)
		}
	}
	testscript.Main(m, map[string]func(){"wane": main})
}

// Each testdata/script/*.txtar is a topic that a stranger can read.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", RequireUniqueNames: true, RequireExplicitExec: true})
}

// wane runs the program within the test, at a fixed time of day.
func wane(t *testing.T, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	return waneAt(t, time.Date(2025, 6, 1, 2, 15, 0, 0, time.UTC), args...)
}

// waneAt is wane at another time.
func waneAt(t *testing.T, now time.Time, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	var out, errs strings.Builder
	ctx := context.Background()
	err := run(ctx, env{args: args, stdin: strings.NewReader(""), stdout: &out, stderr: &errs,
		now: func() time.Time { return now }})
	code = exitCode(ctx, err, &errs)
	return out.String(), errs.String(), code
}

// appendTo writes more at the end of a file of a site folder.
func appendTo(t *testing.T, dir, name, text string) {
	t.Helper()
	f, err := os.OpenFile(filepath.Join(dir, filepath.FromSlash(name)), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString(text); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// plainSite writes a small site whose readings are in the plain form: one bay
// of four fixtures, 12 h a day, hourly, from 2024-01-01 for so many days, with
// a relamp, a cleaning and recalibrations. Rows and logbook lines dated from
// cut on are left out.
func plainSite(t *testing.T, dir string, days int, cut time.Time) {
	t.Helper()
	write := func(name, text string) {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("site.yaml", "name: Invented test site\nzone: Europe/Amsterdam\nrooms:\n  veg: {on: \"06:00\", hours: 12}\n")
	fixtures := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n"
	sensors := "sensor,channel,quantity,unit,watches,factor,from,to\nlog,v,supply_v,V,c1,1,,\n"
	for i := 1; i <= 4; i++ {
		fixtures += fmt.Sprintf("f%d,veg,veg-a,c1,hps-de,lot-1,make K2,1000,230,magnetic,2024-01-01,0\n", i)
		sensors += fmt.Sprintf("log,%d,ppfd,umol/m2/s,f%d,1,,\n", i, i)
	}
	write("register/fixtures.csv", fixtures)
	write("register/sensors.csv", sensors)
	logbook := "at,what,scope,id,value,note\n"
	for _, line := range []string{
		"2024-03-01,clean,room,veg,all,", "2024-06-01,recalibrate,sensor,log,0.992,", "2024-07-15,relamp,fixture,f3,lot-2,",
		"2024-09-01,clean,room,veg,all,", "2024-12-01,recalibrate,sensor,log,0.990,", "2025-02-01,fail,fixture,f4,dark,",
	} {
		if at, err := time.Parse("2006-01-02", line[:10]); err != nil || at.Before(cut) {
			logbook += line + "\n"
		}
	}
	write("register/logbook.csv", logbook)
	start := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)
	var b strings.Builder
	b.WriteString("time,sensor,channel,value\n")
	for h := range days * 24 {
		at := start.Add(time.Duration(h) * time.Hour)
		if !at.Before(cut) {
			break
		}
		stamp := at.Format(time.RFC3339)
		volts := 230 + 3*math.Sin(float64(h)/50)
		fmt.Fprintf(&b, "%s,log,v,%.1f\n", stamp, volts)
		burned := float64(h) / 2
		for i := 1; i <= 4; i++ {
			v := 0.0
			if at.Hour() >= 5 && at.Hour() < 17 {
				x := burned
				if i == 3 && at.After(time.Date(2024, 7, 15, 0, 0, 0, 0, time.UTC)) {
					x -= 12 * 196
				}
				v = 800 * math.Exp(-float64(10+3*i)/1e6*x) * math.Pow(volts/230, 1.5) * (1 + 0.002*math.Sin(float64(h*i)))
			}
			if i == 4 && !at.Before(time.Date(2025, 2, 1, 0, 0, 0, 0, time.UTC)) {
				v = 0
			}
			fmt.Fprintf(&b, "%s,log,%d,%.1f\n", stamp, i, v)
		}
	}
	write("inbox/all.csv", b.String())
}

var never = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)

// A due table as of a past day is what a site would have printed that knew
// nothing later: neither readings nor logbook lines.
func TestAsOfUsesNothingDatedLater(t *testing.T) {
	t.Parallel()
	const asOf = "2024-10-20"
	whole, past := t.TempDir(), t.TempDir()
	plainSite(t, whole, 480, never)
	// the site's day 20 October ends at 22:00 UTC: clocks are still on summer time
	plainSite(t, past, 480, time.Date(2024, 10, 20, 22, 0, 0, 0, time.UTC))
	for _, dir := range []string{whole, past} {
		if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
			t.Fatalf("nightly: %d %s", code, errs)
		}
	}
	a, errs, code := wane(t, "due", "--site", whole, "--as-of", asOf, "--format", "csv")
	if code != exitDone {
		t.Fatalf("due: %d %s", code, errs)
	}
	b, _, _ := wane(t, "due", "--site", past, "--as-of", asOf, "--format", "csv")
	if a != b {
		t.Errorf("as of %s the whole site says\n%s\na site that knows no more says\n%s", asOf, a, b)
	}
	now, _, _ := wane(t, "due", "--site", whole, "--format", "csv")
	if now == a || !strings.Contains(now, "dark") || strings.Contains(a, "dark") {
		t.Errorf("f4 failed in 2025: today\n%s\nas of %s\n%s", now, asOf, a)
	}
}

// The columns of due are read by other programs.
func TestDueColumns(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 200, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	out, _, _ := wane(t, "due", "--site", dir, "--format", "csv")
	head, _, _ := strings.Cut(out, "\n")
	const want = "fixture,lamp_life,lamp_type,cohort,as_of,threshold,run_hours,level,level_lo,level_hi,due_hours,due_hours_lo,due_hours_hi,due_date,due_date_lo,due_date_hi,interval,status,method,reason"
	if head != want {
		t.Errorf("columns\n%s\nwant\n%s", head, want)
	}
	out, _, _ = wane(t, "decline", "--site", dir, "--format", "csv")
	if head, _, _ = strings.Cut(out, "\n"); head != "fixture,lamp_life,date,run_hours,level,level_raw,flags" {
		t.Errorf("columns of decline: %s", head)
	}
}

// hashes gives the bytes of every file below dir by its path.
func hashes(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[rel] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A second nightly changes no byte, and rebuild gives the same bytes again.
func TestNightlyTwiceAndRebuildAreTheSame(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 120, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	first, pages := hashes(t, filepath.Join(dir, "archive")), hashes(t, filepath.Join(dir, "reports"))
	for _, again := range []string{"nightly", "rebuild", "rebuild --readings"} {
		if _, errs, code := wane(t, append(strings.Fields(again), "--site", dir)...); code != exitDone && code != exitPerson {
			t.Fatalf("%s: %d %s", again, code, errs)
		}
		same(t, again+": archive", first, hashes(t, filepath.Join(dir, "archive")))
		same(t, again+": reports", pages, hashes(t, filepath.Join(dir, "reports")))
	}
	if len(first) < 8 || len(pages) < 2 {
		t.Fatalf("%d files in the archive, %d pages: nothing was compared", len(first), len(pages))
	}
}

func same(t *testing.T, what string, a, b map[string]string) {
	t.Helper()
	for name := range a {
		if _, ok := b[name]; !ok {
			t.Errorf("%s: %s is gone", what, name)
		} else if a[name] != b[name] && name != "lock" {
			t.Errorf("%s: %s has changed", what, name)
		}
	}
	for name := range b {
		if _, ok := a[name]; !ok {
			t.Errorf("%s: %s is new", what, name)
		}
	}
}
