package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Three circuits that read the lines of one service: the unbalance is that of
// NEMA MG 1's definition, a sag is one event however many readings it spans,
// and what the register does not say is said to be missing.
func TestSupplyEventsAndUnbalance(t *testing.T) {
	t.Parallel()
	dir := labSite(t, 1, "  reference: ref\nsupply:\n  phases:\n    main: [L12, L23, L31]\n")
	sensors := "sensor,channel,quantity,unit,watches,factor,from,to\n"
	fixtures := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n"
	// 460, 467 and 450 V: mean 459, the farthest 9 off it, 1.96 %
	volts := map[string]float64{"L12": 46, "L23": 46.7, "L31": 45}
	var b strings.Builder
	b.WriteString("time,sensor,channel,value\n")
	start := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	for i, c := range []string{"L12", "L23", "L31"} {
		sensors += fmt.Sprintf("vt,%d,supply_v,V,%s,10,,\n", i, c)
		fixtures += fmt.Sprintf("f%d,lab,,%s,led,k,make K2,640,480,driver,,\n", i, c)
		for m := range 4 * 24 * 10 {
			at := start.Add(time.Duration(m) * 15 * time.Minute)
			v := volts[c]
			if c == "L12" && (m == 200 || m == 201 || m == 500) {
				v = 40 // 400 V of nominal 480: two sags
			}
			if c == "L31" && m >= 700 && m < 710 {
				continue // the logger was off: no event
			}
			fmt.Fprintf(&b, "%s,vt,%d,%.1f\n", at.Format(time.RFC3339), i, v)
		}
	}
	fixtures += "f9,lab,,C-dark,led,k,make K2,640,480,driver,,\n"
	for name, text := range map[string]string{"register/sensors.csv": sensors,
		"register/fixtures.csv": fixtures + "ref,lab,,,led,k,make K2,640,480,driver,,\n", "inbox/v.csv": b.String()} {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if _, errs, code := surveyRun(t, "", "ingest", "--site", dir); code != exitDone {
		t.Fatalf("ingest: %d %s", code, errs)
	}
	ph := surveyRows(t, "supply", "--show", "phases", "--site", dir)
	if len(ph) != 1 || math.Abs(surveyNum(t, ph[0]["median_pct"])-1.96) > .005 || surveyNum(t, ph[0]["hours"]) < 230 {
		t.Errorf("unbalance %v, want 1.96 %%", ph)
	}
	ev := surveyRows(t, "supply", "--show", "events", "--site", dir)
	if len(ev) != 2 || ev[0]["circuit"] != "L12" || ev[0]["kind"] != "sag" || ev[0]["samples"] != "2" ||
		ev[0]["at_least_s"] != "900" || ev[0]["at_most_s"] != "2700" || ev[1]["class"] != "not known" {
		t.Errorf("events %v", ev)
	}
	for _, r := range surveyRows(t, "supply", "--site", dir) {
		switch r["circuit"] {
		case "C-dark":
			if !strings.Contains(r["words"], "no voltage series watches it") {
				t.Errorf("%v", r)
			}
		default:
			if !strings.HasPrefix(r["service"], "480Y/277, line to line") || r["as_registered"] != "true" ||
				r["not_rated"] != "0" {
				t.Errorf("%v", r)
			}
		}
	}
	if _, errs, code := surveyRun(t, "", "supply", "L21", "--site", dir); code != exitUsage ||
		!strings.Contains(errs, "did you mean") {
		t.Errorf("a circuit that is not there: %d %s", code, errs)
	}
	if _, errs, code := surveyRun(t, "", "supply", "--show", "hour", "--site", dir); code != exitUsage ||
		!strings.Contains(errs, "use circuits, hours") {
		t.Errorf("--show hour: %d %s", code, errs)
	}
	out, errs, code := surveyRun(t, "", "supply", "--as-of", "2025-03-02", "--show", "events", "--site", dir, "--format",
		"csv")
	if code != exitDone || strings.Count(out, "\n") != 1 {
		t.Errorf("as of the day before the first sag: %d %s\n%s", code, errs, out)
	}
}
