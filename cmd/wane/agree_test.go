package main

import (
	"fmt"
	"html"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// inventedNight is a small site drawn at random: lamps that fade fast or slowly,
// fail, are cleaned, lose their logger, were never watched, or hang under a sensor
// that nobody calibrates; with prices or without.
type inventedNight struct {
	dir  string
	rng  *rand.Rand
	days int
}

func (s inventedNight) write(t *testing.T, name, text string) {
	t.Helper()
	p := filepath.Join(s.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func (s inventedNight) chance(p float64) bool { return s.rng.Float64() < p }

// lamps writes register, logbook and readings.
func (s inventedNight) lamps(t *testing.T) {
	start := time.Date(2024, 6, 1, 0, 0, 0, 0, time.UTC)
	fixtures := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n"
	sensors := "sensor,channel,quantity,unit,watches,factor,from,to\n"
	logbook := "at,what,scope,id,value,note\n"
	var rows strings.Builder
	rows.WriteString("time,sensor,channel,value\n")
	types := []string{"hps-de,lot-1,make K2,1000,230,magnetic", "cmh,lot-2,make P7,315,230,electronic",
		"led,lot-3,make T4,600,230,driver"}
	for room := range 3 {
		if s.chance(0.75) {
			logbook += fmt.Sprintf("2024-10-01,recalibrate,sensor,S%d,1.000,\n2025-04-20,recalibrate,sensor,S%d,1.000,\n", room,
				room)
		}
		silent := s.days
		if s.chance(0.25) {
			silent -= 6 + s.rng.IntN(20)
		}
		for k := range 2 + s.rng.IntN(4) {
			id := fmt.Sprintf("r%d-%d", room, k)
			fixtures += fmt.Sprintf("%s,room %d,b%d,c1,%s,%s,0\n", id, room, room, types[room], start.Format(time.DateOnly))
			if s.chance(0.12) {
				continue // nobody watches it
			}
			sensors += fmt.Sprintf("S%d,%d,ppfd,umol/m2/s,%s,1,,\n", room, k, id)
			dark := s.days
			if s.chance(0.2) {
				dark -= 1 + s.rng.IntN(60)
				logbook += fmt.Sprintf("%s,fail,fixture,%s,dark,\n", start.AddDate(0, 0, dark).Format(time.DateOnly), id)
			}
			loss := math.Exp(-11.5 + 2.0*s.rng.Float64()) // from 4 to 27 % in 3,960 h
			for d := range min(dark, silent) {
				for h := 6; h < 18; h++ {
					burned := float64(d*12 + h - 6)
					v := 800 * math.Exp(-loss*burned) * (1 + 0.003*s.rng.NormFloat64())
					fmt.Fprintf(&rows, "%s,S%d,%d,%.1f\n", start.Add(time.Duration(d*24+h)*time.Hour).Format(time.RFC3339), room, k, v)
				}
			}
		}
	}
	s.write(t, "register/fixtures.csv", fixtures)
	s.write(t, "register/sensors.csv", sensors)
	s.write(t, "register/logbook.csv", logbook)
	s.write(t, "inbox/all.csv", rows.String())
}

// line is a line of the front page.
type agreeLine struct{ head, do, who string }

var (
	inLine = regexp.MustCompile(`(?s)<li[^>]*>\s*<p class="head">(.*?)</p>\s*<p class="do">(.*?)</p>(?:\s*<p class="who">(.*?)</p>)?`)
	inTag  = regexp.MustCompile(`<[^>]*>`)
	inRow  = regexp.MustCompile(`(?s)<tr role="row">(.*?)</tr>`)
	inCell = regexp.MustCompile(`(?s)<t[hd][^>]*>(.*?)</t[hd]>`)
	inNote = regexp.MustCompile(`(?s)<span class="(?:note|interval|sign)"[^>]*>.*?</span>`)
)

// plainText is markup as it is read.
func plainText(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(html.UnescapeString(inTag.ReplaceAllString(s, "")), "\u00a0",
		" ")), " ")
}

func frontPage(t *testing.T, dir string) (lead string, lines []agreeLine) {
	t.Helper()
	page, err := os.ReadFile(filepath.Join(dir, "reports", "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	_, week, _ := strings.Cut(string(page), `<section id="week"`)
	week, _, _ = strings.Cut(week, "</section>")
	for _, m := range inLine.FindAllStringSubmatch(week, -1) {
		lines = append(lines, agreeLine{strings.TrimLeft(plainText(m[1]), "■●▼◆≈○△◷ "), plainText(m[2]), plainText(m[3])})
	}
	_, lead, _ = strings.Cut(string(page), `<p class="lead">`)
	lead, _, _ = strings.Cut(lead, "</p>")
	return plainText(lead), lines
}

// planRows are what the plan's page says of each lamp: decision and day.
func planRows(t *testing.T, dir string) map[string][2]string {
	t.Helper()
	page, err := os.ReadFile(filepath.Join(dir, "reports", "plan.html"))
	if err != nil {
		t.Fatal(err)
	}
	_, part, _ := strings.Cut(string(page), `<section id="lamps"`)
	part, _, _ = strings.Cut(part, "</section>")
	out := map[string][2]string{}
	for _, r := range inRow.FindAllStringSubmatch(part, -1) {
		if c := inCell.FindAllStringSubmatch(r[1], -1); len(c) > 2 {
			cell := func(i int) string { return plainText(inNote.ReplaceAllString(c[i][1], "")) }
			out[cell(0)] = [2]string{cell(1), cell(2)}
		}
	}
	return out
}

// The front page, the plan, the table of due dates and the exit status of the
// night never contradict each other, whatever the site is like.
func TestPagesPlanDueAndExitStatusAgree(t *testing.T) {
	t.Parallel()
	const sites = 6
	var met [sites]struct{ kinds, statuses map[string]int }
	t.Run("sites", func(t *testing.T) {
		for seed := range met {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				met[seed].kinds, met[seed].statuses = agrees(t, uint64(seed))
			})
		}
	})
	kinds, statuses := map[string]int{}, map[string]int{}
	for _, m := range met {
		for k, n := range m.kinds {
			kinds[k] += n
		}
		for k, n := range m.statuses {
			statuses[k] += n
		}
	}
	for _, k := range []string{"Order", "Dark", "Under its threshold", "Silent logger", "No answer yet"} {
		if kinds[k] == 0 {
			t.Errorf("no invented site has a line %q: nothing was tested", k)
		}
	}
	if len(statuses) < 5 {
		t.Errorf("the invented lamps have the statuses %v only", statuses)
	}
	t.Log(kinds, statuses)
}

// agrees gives how many lines of each kind and lamps of each status the site has.
func agrees(t *testing.T, seed uint64) (kinds, statuses map[string]int) {
	kinds, statuses = map[string]int{}, map[string]int{}
	s := inventedNight{t.TempDir(), rand.New(rand.NewPCG(seed, 7)), 330}
	text := "name: Invented test site\nzone: UTC\nrooms:\n  room 0: {on: \"06:00\", hours: 12}\n  room 1: {on: \"06:00\", hours: 12}\n  room 2: {on: \"06:00\", hours: 12}\n"
	if seed%3 != 2 {
		text += costs
	}
	s.write(t, "site.yaml", text)
	s.lamps(t)
	now := time.Date(2024, 6, 1, 2, 0, 0, 0, time.UTC).AddDate(0, 0, s.days)
	_, errs, code := waneAt(t, now, "nightly", "--site", s.dir)
	if code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	ask := func(args ...string) []map[string]string {
		out, errs, code := waneAt(t, now, append(args, "--site", s.dir, "--format", "csv")...)
		if code != exitDone && code != exitPerson {
			t.Fatalf("%v: %d %s", args, code, errs)
		}
		_, rows := table(t, out)
		return rows
	}
	due, plan := map[string]map[string]string{}, map[string]map[string]string{}
	for _, r := range ask("due") {
		due[r["fixture"]] = r
		statuses[r["status"]]++
	}
	for _, r := range ask("plan") {
		plan[r["fixture"]] = r
	}
	lead, lines := frontPage(t, s.dir)
	onPage := map[string]agreeLine{} // of each lamp: its one line
	for _, l := range lines {
		kinds[l.head]++
		if strings.HasPrefix(l.head, "Order") || l.head == "Silent logger" || l.head == "To settle" {
			continue
		}
		for _, id := range strings.Split(l.who, ", ") {
			if other, twice := onPage[id]; twice && other.head != "Question" && l.head != "Question" {
				t.Errorf("%s stands under %q and under %q", id, other.head, l.head)
			}
			if _, ok := due[id]; ok && onPage[id].head == "" {
				onPage[id] = l
			}
		}
	}
	agreeLamps(t, s.dir, due, plan, onPage, now)
	agreeCounts(t, lead, due, now)
	agreeExit(t, lines, errs, code)
	agreeRivals(t, due, errs)
	return kinds, statuses
}

// kindOf is what a row of due asks for, worked out from the table alone.
func kindOf(r map[string]string, now time.Time) string {
	switch r["status"] {
	case "dark":
		return "Dark"
	case "under":
		return "Under its threshold"
	case "inseparable":
		return "Question"
	case "too-early", "no-data":
		return "No answer yet"
	}
	// the record ends the day before the night
	if d, err := time.Parse(time.DateOnly, r["due_date"]); err == nil && r["status"] == "forecast" &&
		d.Before(now.AddDate(0, 0, 90)) {
		return "Due in 90 days"
	}
	return ""
}

func agreeLamps(t *testing.T, dir string, due, plan map[string]map[string]string, onPage map[string]agreeLine,
	now time.Time) {
	pages := planRows(t, dir)
	for id, r := range due {
		l, want := onPage[id], kindOf(r, now)
		if l.head != want && !(want == "No answer yet" && l.head == "") && !(want == "" && l.head == "Question") {
			t.Errorf("%s: due says %s (%s), the front page has it under %q, want %q", id, r["status"], r["due_date"], l.head,
				want)
		}
		p, ok := plan[id]
		if !ok {
			continue
		}
		day := ""
		if d, err := time.Parse(time.DateOnly, p["date"]); err == nil {
			day = d.Format("2 Jan 2006")
		}
		if got := pages[id]; got != [2]string{p["decision"], day} {
			t.Errorf("%s: the plan's page says %q, the plan's table %q on %q", id, got, p["decision"], day)
		}
		if l.head == "" || l.head == "Question" || l.head == "No answer yet" {
			continue
		}
		word := map[string]string{"keep": "Keep ", "spot relamp": "Replace ", "group relamp": "Replace ",
			"replace gear": "Look at the ballast", "clean": "Clean "}[p["decision"]]
		if !strings.HasPrefix(l.do, word) || day != "" && !strings.Contains(l.do, day) {
			t.Errorf("%s: the plan says %s on %q, the front page %q", id, p["decision"], day, l.do)
		}
	}
}

func agreeCounts(t *testing.T, lead string, due map[string]map[string]string, now time.Time) {
	by := map[string]int{}
	for _, r := range due {
		by[kindOf(r, now)]++
	}
	if by["No answer yet"]+by["Question"] == len(due) {
		return
	}
	for _, want := range []string{fmt.Sprintf("%d ", by["Dark"]), fmt.Sprintf("%d ", by["Under its threshold"]),
		fmt.Sprintf("%d fall", by["Due in 90 days"]), fmt.Sprintf("for %d nothing need", by[""])} {
		if !strings.Contains(lead, want) {
			t.Errorf("due counts %v, the front page says %q", by, lead)
		}
	}
}

// agreeRivals holds what the night says that ageing cannot be told from against the reasons.
func agreeRivals(t *testing.T, due map[string]map[string]string, errs string) {
	t.Helper()
	for reason, said := range map[string]string{
		"drift of the sensor and ageing of the lamp can't": "told from drift of the sensor",
		"dirt and ageing of the lamp can't":                "told from dirt",
		"hangs on a step":                                  "told from a step",
		"which nobody reads":                               "told from supply or air",
	} {
		has := false
		for _, r := range due {
			has = has || r["status"] == "inseparable" && strings.Contains(r["reason"], reason)
		}
		if has != strings.Contains(errs, said) {
			t.Errorf("a reason says %q: %v; the night said %s", reason, has, errs)
		}
	}
}

// agreeExit holds the exit status, and what is said with it, against the lines.
func agreeExit(t *testing.T, lines []agreeLine, errs string, code int) {
	asks := map[string]bool{}
	for _, l := range lines {
		today := l.head == "Order" && strings.Contains(l.do, "today")
		if today || slices.Contains([]string{"Dark", "Under its threshold", "Question", "Silent logger", "To settle"},
			l.head) {
			asks[l.head] = true
		}
	}
	if (code == exitPerson) != (len(asks) > 0) {
		t.Errorf("exit status %d (%s), and the front page asks for %v", code, errs, slices.Sorted(maps.Keys(asks)))
	}
	for head, said := range map[string]string{"Dark": "dark and not replaced",
		"Under its threshold": "under their threshold", "Order": "order now", "Silent logger": "no reading for days"} {
		if asks[head] != strings.Contains(errs, said) {
			t.Errorf("the front page has a line %q: %v; the night said %s", head, asks[head], errs)
		}
	}
}
