package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/site"
)

// costs is a plan section with every cost that the small site needs.
const costs = `plan:
  currency: EUR
  site: {lamp_price: 75, labour_spot_min: 15, labour_group_min: 7, wage_per_hour: 32, lift_per_visit: 90, disposal_per_lamp: 1.5, lead_lamp_days: 21,
    crop_value_per_m2_year: 260, lamp_share: 1, crop_group: cut flowers, area_m2_per_fixture: 2}
`

// plannedSite is the plain site after its nightly run, with a plan section.
func plannedSite(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	plainSite(t, dir, 480, never)
	withPlan(t, dir, costs)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	return dir
}

// withPlan replaces the plan section of the plain site's site.yaml.
func withPlan(t *testing.T, dir, section string) {
	t.Helper()
	path := filepath.Join(dir, "site.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(string(text), "plan:")
	if err := os.WriteFile(path, []byte(head+section), 0o644); err != nil {
		t.Fatal(err)
	}
}

func table(t *testing.T, text string) (head []string, rows []map[string]string) {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(all) == 0 {
		t.Fatalf("not a table: %v\n%s", err, text)
	}
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, c := range r {
			m[all[0][i]] = c
		}
		rows = append(rows, m)
	}
	return all[0], rows
}

// The plan of a small site is asked in many ways, and the site made once: its tables keep their columns, its
// calendar its
// form, and the whole says the same again.
func TestPlan(t *testing.T) {
	t.Parallel()
	dir := plannedSite(t)
	t.Run("what if", func(t *testing.T) { testWhatIf(t, dir) })
	t.Run("document", func(t *testing.T) { testDocument(t, dir) })
	t.Run("calendar", func(t *testing.T) { testCalendar(t, dir) })
	out, errs, code := wane(t, "plan", "--site", dir, "--format", "csv")
	if code != exitDone && code != exitPerson {
		t.Fatalf("plan: %d %s", code, errs)
	}
	again, _, _ := wane(t, "plan", "--site", dir, "--format", "csv")
	if out != again {
		t.Errorf("the second plan differs\n%s\n%s", out, again)
	}
	_, rows := table(t, out)
	if len(rows) != 4 {
		t.Fatalf("%d lamps planned, want 4:\n%s", len(rows), out)
	}
	for _, r := range rows {
		switch {
		case r["reason"] == "":
			t.Errorf("%s: %s without a reason", r["fixture"], r["decision"])
		case r["fixture"] == "f4" && (r["decision"] != "spot relamp" || r["chance_under"] != "1" || r["date"] == ""):
			t.Errorf("f4 is dark, the plan says %v", r)
		case r["loss_year"] == "" || r["loss_year_lo"] == "" || r["loss_year_hi"] == "":
			t.Errorf("%s: light lost without its interval: %v", r["fixture"], r)
		}
	}
	for name, want := range map[string]string{
		"lamps":    "fixture,lamp_life,room,bay,lamp_type,decision,date,preferred,earliest,latest,due_at_risk,cost,currency,interval_hours,interval_lo,interval_hi,chance_under,light_lost_mol_year,loss_year,loss_year_lo,loss_year_hi,efficacy_umol_j,kwh_mol,reason",
		"work":     "date,room,bay,fixture,lamp_life,lamp_type,do,cost,currency,why",
		"orders":   "order_by,needed_by,item,lamp_type,quantity,planned,spares,from_stock,cost,currency,late,note",
		"rooms":    "room,lamps,decision,date,spot_year,group_year,currency,interval_hours,interval_lo,interval_hi,response_hours_lo,response_hours_hi,mean_level,uniformity,dirt_loss,clean_date,clean_days,reason",
		"visits":   "date,room,work,old_lamps,cost,currency,note",
		"spares":   "lamp_type,lamps,days,failures,failures_lo,failures_hi,interval,spares,service_level,achieved,on_hand,note",
		"spending": "from,to,planned,cap,currency,over,deferred",
		"what-if":  "way,cost,cost_lo,cost_hi,work,work_lo,work_hi,light,light_lo,light_hi,lamps_left,lamps_left_lo,lamps_left_hi,lost_mol,lost_mol_lo,lost_mol_hi,visits,visits_lo,visits_hi,lamps,lamps_lo,lamps_hi,currency,days,draws,interval",
	} {
		out, errs, code := wane(t, "plan", "--site", dir, "--format", "csv", "--table", name)
		head, rows := table(t, out)
		if got := strings.Join(head, ","); got != want || (code != exitDone && code != exitPerson) || len(rows) == 0 {
			t.Errorf("%s: %d %s, %d rows, columns\n%s\nwant\n%s", name, code, errs, len(rows), got, want)
		}
	}
	out, _, _ = wane(t, "plan", "--site", dir)
	for _, want := range []string{"Isolate and lock out", "mercury", "re-strike", "Local codes", "Order list",
		"Work list"} {
		if !strings.Contains(out, want) {
			t.Errorf("the printed plan lacks %q:\n%s", want, out)
		}
	}
	if strings.Contains(out, "NaN") || strings.Contains(out, "Inf") || strings.Contains(out, "%!") {
		t.Errorf("not fit for people:\n%s", out)
	}
}

// Ways of keeping the lamps stand side by side: today's, each change by itself,
// all together, and the two habits.
func testWhatIf(t *testing.T, dir string) {
	ask := func() (out string) {
		out, errs, code := wane(t, "plan", "--site", dir, "--format", "csv", "--what-if", "--threshold", "0.85",
			"--price.lamp", "10", "--budget", "50/quarter", "--seed", "7")
		if code != exitDone && code != exitPerson {
			t.Fatalf("what-if: %d %s", code, errs)
		}
		return out
	}
	out := ask()
	_, rows := table(t, out)
	var ways []string
	for _, r := range rows {
		ways = append(ways, r["way"])
		if r["cost_lo"] == "" || r["cost_hi"] == "" {
			t.Errorf("%s: cost without its interval", r["way"])
		}
	}
	want := []string{"today's plan", "threshold 0.85 as a limit", "price.lamp 10", "budget 50/quarter",
		"threshold 0.85 as a limit, price.lamp 10, budget 50/quarter", "replace all at fixed hours", "replace on failure"}
	if !slices.Equal(ways, want) {
		t.Errorf("ways %q, want %q", ways, want)
	}
	if out != ask() {
		t.Error("the same seed gave another table")
	}
}

// The document is JSON that names days, nulls and intervals plainly.
func testDocument(t *testing.T, dir string) {
	out, _, _ := wane(t, "plan", "--site", dir, "--format", "json", "--what-if")
	var doc struct {
		AsOf     string           `json:"as_of"`
		Lamps    []map[string]any `json:"lamps"`
		Orders   []map[string]any `json:"orders"`
		Cautions []string         `json:"cautions"`
		WhatIf   struct {
			Rows []struct {
				Name string
				Cost struct{ Centre, Lo, Hi *float64 }
			}
		} `json:"what_if"`
	}
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.AsOf != "2025-04-26" || len(doc.Lamps) != 4 || len(doc.Cautions) == 0 || len(doc.WhatIf.Rows) != 4 ||
		doc.WhatIf.Rows[0].Cost.Lo == nil {
		t.Errorf("document of %s: %d lamps, ways %+v", doc.AsOf, len(doc.Lamps), doc.WhatIf.Rows)
	}
	if _, ok := doc.Lamps[0]["loss_per_year"].(map[string]any); !ok {
		t.Errorf("keys of a lamp: %v", doc.Lamps[0])
	}
}

// What people leave out or get wrong is said, and the rest is planned.
func TestPlanOfFaultyCosts(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 130, never)
	appendTo(t, dir, "register/logbook.csv", "2024-05-03,fail,fixture,f4,dark,\n")
	if _, errs, code := wane(t, "nightly", "--no-report", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	for _, c := range []struct {
		name, section string
		out, errs     string // words that must be there
		dated         bool   // the dark lamp has a day all the same
	}{
		{"no costs at all", "", "lamp_price is not given (all lamps): no cost-optimal interval, the threshold alone says when", "", true},
		{"a price of nought", strings.Replace(costs, "lamp_price: 75", "lamp_price: 0", 1), "lamp_price is 0 (all lamps)",
			"plan.site.lamp_price: a price of 0", true},
		{"a window that never opens", costs + "  rooms:\n    veg: {work: [{from: 2020-01-01, to: 2020-02-01}]}\n",
			"room veg: no open day in the ten years", "to be worked on without a day", false},
		{"a window that cannot be read", costs + "  rooms:\n    veg: {work: [{from: 13-01, to: 14-01}]}\n", "no open day",
			"plan.rooms.veg.work[0]", false},
		{"a lead time beyond the horizon", strings.Replace(costs, "lead_lamp_days: 21", "lead_lamp_days: 2000", 1),
			"a lead time of 2000 days is longer than the horizon of 1095", "later than wanted", true},
		{"negative stock", costs + "  stock: {hps-de: {lamps: -3}}\n", "", "plan.stock.hps-de.lamps: stock of -3 is negative",
			true},
		{"a room that is none", costs + "  rooms:\n    vge: {lamp_price: 3}\n", "", `the register has no room "vge"`, true},
	} {
		withPlan(t, dir, c.section)
		out, errs, code := wane(t, "plan", "--site", dir)
		if code != exitDone && code != exitPerson || c.errs != "" && code != exitPerson {
			t.Errorf("%s: exit %d", c.name, code)
		}
		if !strings.Contains(out, c.out) || !strings.Contains(errs, c.errs) {
			t.Errorf("%s: want %q and on stderr %q, got\n%s\n%s", c.name, c.out, c.errs, out, errs)
		}
		text, _, _ := wane(t, "plan", "--site", dir, "--format", "csv")
		_, rows := table(t, text)
		if len(rows) != 4 {
			t.Errorf("%s: %d lamps planned, want all 4", c.name, len(rows))
		}
		for _, r := range rows {
			if r["fixture"] == "f4" && (r["date"] != "") != c.dated {
				t.Errorf("%s: the dark lamp's day is %q", c.name, r["date"])
			}
		}
	}
	withPlan(t, dir, "plan:\n  site: {lamp_prise: 3}\n")
	if _, errs, code := wane(t, "plan", "--site", dir); code != exitUsage ||
		!strings.Contains(errs, `did you mean "lamp_price"?`) {
		t.Errorf("an unknown cost: %d %s", code, errs)
	}
}

func TestPlanRefusesWhatItCannotRead(t *testing.T) {
	dir := t.TempDir()
	plainSite(t, dir, 60, never)
	for _, args := range [][]string{
		{"--threshold", "1.2"}, {"--risk", "0"}, {"--budget", "many/quarter"}, {"--budget", "100/week"},
		{"--budget", "-3/year"}, {"--price.lamp", "-1"},
		{"--price.lamp", "NaN"}, {"--horizon", "-4"}, {"--table", "lamps"}, {"--format", "csv", "--table", "lamp"},
		{"--as-of", "soon"},
	} {
		_, errs, code := wane(t, append([]string{"plan", "--site", dir}, args...)...)
		if code != exitUsage || errs == "" {
			t.Errorf("%v: exit %d, %s", args, code, errs)
		}
	}
	if _, errs, code := wane(t, "plan", "--site", dir); code != exitFailed || !strings.Contains(errs, "no reading") {
		t.Errorf("a site without readings: %d %s", code, errs)
	}
}

// The calendar keeps the rules of RFC 5545 that a reader stumbles over, and is
// written with the report, to the same bytes.
func testCalendar(t *testing.T, dir string) {
	path := filepath.Join(t.TempDir(), "visits.ics")
	if _, errs, code := wane(t, "plan", "--site", dir, "--calendar", path); code != exitDone && code != exitPerson {
		t.Fatalf("plan: %d %s", code, errs)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	nightly, err := os.ReadFile(filepath.Join(dir, "reports", "plan.ics"))
	if err != nil || string(nightly) != string(text) {
		t.Errorf("the report's calendar differs: %v", err)
	}
	s := string(text)
	if !strings.HasPrefix(s, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:") || !strings.HasSuffix(s, "END:VCALENDAR\r\n") {
		t.Errorf("frame of the calendar:\n%s", s)
	}
	events, uids := 0, map[string]bool{}
	for _, line := range strings.Split(strings.TrimSuffix(s, "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") {
			t.Errorf("line of %d octets: %q", len(line), line)
		}
		key, value, _ := strings.Cut(line, ":")
		switch key {
		case "BEGIN":
			if value == "VEVENT" {
				events++
			}
		case "UID":
			if uids[value] {
				t.Errorf("uid %s stands twice", value)
			}
			uids[value] = true
		case "DTSTART;VALUE=DATE", "DTEND;VALUE=DATE":
			if _, err := time.Parse("20060102", value); err != nil {
				t.Errorf("%s: %v", line, err)
			}
		}
	}
	if events == 0 || events != len(uids) || strings.Count(s, "END:VEVENT") != events {
		t.Errorf("%d events, %d uids", events, len(uids))
	}
	if _, errs, code := wane(t, "plan", "--site", dir, "--calendar",
		filepath.Join(dir, "nowhere", "x.ics")); code != exitUsage || !strings.Contains(errs, "no folder") {
		t.Errorf("a folder that is not there: %d %s", code, errs)
	}
}

// A lamp whose own current comes and goes within the day is at its end, though
// its light is read once an hour and looks steady.
func TestPlanFindsLampsThatCycle(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 480, never)
	withPlan(t, dir, costs)
	sensors := filepath.Join(dir, "register", "sensors.csv")
	text, err := os.ReadFile(sensors)
	if err != nil {
		t.Fatal(err)
	}
	add := "clamp,1,current_a,A,f1,1,,\nclamp,2,current_a,A,f2,1,,\n"
	if err := os.WriteFile(sensors, append(text, add...), 0o644); err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString("time,sensor,channel,value\n")
	for at := time.Date(2025, 4, 8, 0, 0, 0, 0, time.UTC); at.Before(time.Date(2025, 4, 25, 0, 0, 0, 0,
		time.UTC)); at = at.Add(5 * time.Minute) {
		amps := map[bool]float64{true: 4.4}[at.Hour() >= 5 && at.Hour() < 17]
		cycling := amps
		if at.Minute() < 10 && at.Hour()%3 == 0 { // out for ten minutes every third hour
			cycling = 0
		}
		fmt.Fprintf(&b, "%s,clamp,1,%.1f\n%s,clamp,2,%.1f\n", at.Format(time.RFC3339), cycling, at.Format(time.RFC3339), amps)
	}
	if err := os.WriteFile(filepath.Join(dir, "inbox", "clamp.csv"), []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	out, _, _ := wane(t, "plan", "--site", dir, "--format", "csv")
	_, rows := table(t, out)
	for _, r := range rows {
		if found := strings.Contains(r["reason"], "goes out and comes back by itself"); found != (r["fixture"] == "f1") {
			t.Errorf("%s cycles: %v; the plan says %s: %s", r["fixture"], found, r["decision"], r["reason"])
		}
	}
}

// The commented plan section of a new site is one that can be used as it is.
func TestCommentedPlanSectionCanBeUsed(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "house")
	if _, errs, code := wane(t, "new", dir); code != exitDone {
		t.Fatalf("new: %d %s", code, errs)
	}
	text, err := os.ReadFile(filepath.Join(dir, "site.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(text), "\n# plan:")
	section, _, more := strings.Cut(rest, "\n\n")
	if !ok || !more {
		t.Fatalf("site.yaml has no commented plan section:\n%s", text)
	}
	lines := strings.Split("# plan:"+section, "\n")
	for i := range lines {
		lines[i] = strings.TrimPrefix(strings.TrimPrefix(lines[i], "# "), "#")
	}
	c, found := site.Parse([]byte("name: Invented\nzone: Europe/Amsterdam\n"+strings.Join(lines, "\n")+"\n"),
		sitefolder.CronLine)
	if len(found) > 0 || len(c.PlanFaults) > 0 {
		t.Fatalf("%v\n%v", found, c.PlanFaults)
	}
	if p := c.Plan.Site; p.LampPrice == nil || p.YieldResponse == nil || len(p.Work) != 2 || c.Plan.Budget == nil ||
		c.Plan.Stock["hps-de"].Gear != 1 {
		t.Errorf("read as %+v", c.Plan)
	}
}
