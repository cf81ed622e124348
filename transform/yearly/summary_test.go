package yearly

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wane/transform/estimate"
	"wane/transform/fleet"
)

// 2025-01-01 and 2025-12-31.
const first25, last25 = 20089, 20453

func input(lives ...Life) Input {
	in := Input{Year: 2025, First: first25, Last: last25, AsOf: last25, Record: Span{first25 - 400, last25}, Level: 0.95,
		Interval: 0.8, Lives: lives}
	seen := map[string]bool{}
	for _, l := range lives {
		if !seen[l.Fixture] {
			seen[l.Fixture] = true
			in.Fixtures = append(in.Fixtures, Fixture{ID: l.Fixture, Model: l.Model, LampType: l.LampType, Gear: l.Gear,
				RoomFirst: "R", RoomLast: "R",
				HungFirst: true, HungLast: true, Output: 800, Energy: Energy{KWh: nan}, LightPerWatt: [2]float64{nan, nan},
				RatedW: 1000})
		}
	}
	return in
}

// lamp is a life that ended in the middle of the year, or goes on.
func lamp(fixture string, n int, entry, exit float64, ended fleet.What) Life {
	l := Life{Fixture: fixture, N: n, LampType: fleet.HPSDE, Model: "model A", Cohort: "lot 1", Gear: fleet.Electronic,
		Room: "R", Start: first25 - 300,
		End: last25, Watched: true, Entry: entry, Exit: exit, Years: []LifeYear{{2025, exit - entry, 365, 365}},
		Baseline: nan, Threshold: 0.9, Ended: ended, HoursPerDay: 12}
	if ended != "" {
		l.End, l.Left = first25+179, first25+180
	}
	if ended == fleet.Fail {
		l.Dark, l.DarkInYear = 5, 5
	}
	return l
}

func made(t *testing.T, in Input) *Summary {
	t.Helper()
	s, err := Make(in)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(s)
	if err != nil { // a NaN or an infinity would be one
		t.Fatal(err)
	}
	if strings.Contains(string(b), "NaN") || strings.Contains(string(b), "Inf") {
		t.Errorf("not a number: %s", b)
	}
	return s
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v ± %v", what, got, want, tol)
	}
}

func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../survival/testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, rec := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = rec[i]
		}
		out = append(out, m)
	}
	return out
}

func parse(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// units makes lamps of one of the survival package's reference sets.
func units(t *testing.T, set string) []Life {
	var out []Life
	for _, r := range rows(t, "units.csv") {
		if r["set"] != set {
			continue
		}
		ended := fleet.What("")
		if r["failed"] == "1" {
			ended = fleet.Fail
		}
		l := lamp(fmt.Sprintf("f%03d", len(out)), 1, parse(t, r["entry"]), parse(t, r["exit"]), ended)
		l.Model, l.Cohort = "group "+r["group"], r["group"]
		out = append(out, l)
	}
	return out
}

func group(t *testing.T, s *Summary, by, name string) *Group {
	t.Helper()
	for i := range s.Groups {
		if s.Groups[i].By == by && s.Groups[i].Name == name {
			return &s.Groups[i]
		}
	}
	t.Fatalf("no group %s %s", by, name)
	return nil
}

// NIST/SEMATECH e-Handbook 8.4.1.3: eta 606.5280, beta 1.7208 (published).
func TestWeibullOfTheHandbook(t *testing.T) {
	g := group(t, made(t, input(units(t, "nist8413")...)), "lamp type", "hps-de")
	near(t, "eta", g.Scale.Centre, 606.5280, 0.001)
	near(t, "beta", g.Shape.Centre, 1.7208, 0.0001)
	if g.Units != 20 || g.Failures != 10 {
		t.Errorf("%d units, %d failures", g.Units, g.Failures)
	}
}

// Curves with left truncation, ties and censoring against R's survfit, log-log
// limits; NIST/SEMATECH 8.2.1.5 is among the sets. The script is
// ../survival/testdata/reference.R.
func TestCurvesAsR(t *testing.T) {
	for _, set := range []string{"nist8215", "aml", "ovarian", "truncated"} {
		s := made(t, input(units(t, set)...))
		at := map[string]int{}
		n := 0
		for _, r := range rows(t, "km_r.csv") {
			if r["set"] != set {
				continue
			}
			c := group(t, s, "make", "group "+r["group"]).Curve
			st := c.Steps[at[r["group"]]]
			at[r["group"]]++
			near(t, set+" age", st.Time, parse(t, r["time"]), 1e-9)
			near(t, set+" survival", st.Survival, parse(t, r["surv"]), 1e-9)
			if st.Survival < 1 && st.Survival > 0 {
				near(t, set+" lower", st.Lo, parse(t, r["loglog_lo"]), 1e-7)
				near(t, set+" upper", st.Hi, parse(t, r["loglog_hi"]), 1e-7)
			}
			n++
		}
		if n == 0 {
			t.Errorf("no rows of %s", set)
		}
	}
}

// R's survdiff of aml: chi-square 3.396389, p 0.065339 (computed, reference.R).
func TestMakesComparedAsR(t *testing.T) {
	s := made(t, input(units(t, "aml")...))
	if len(s.Comparisons) != 1 {
		t.Fatalf("%+v", s.Comparisons)
	}
	for _, r := range rows(t, "logrank_r.csv") {
		if r["set"] == "aml" {
			near(t, "chi2", float64(s.Comparisons[0].Chi2), parse(t, r["chisq"]), 1e-8)
			near(t, "p", float64(s.Comparisons[0].P), parse(t, r["p"]), 1e-8)
		}
	}
}

// Nelson's valve seats (R's valveSeat; "late" has half the engines seen from
// day 150 only): each engine a position, each seat a lamp life.
func TestFailuresPerPositionAsR(t *testing.T) {
	for _, set := range []string{"valveSeat", "late"} {
		var lives []Life
		n := map[string]int{}
		for _, r := range rows(t, "mcf_data.csv") {
			if r["set"] != set {
				continue
			}
			n[r["id"]]++
			from, to := parse(t, r["from"]), parse(t, r["to"])
			ended := fleet.What("")
			if r["event"] == "1" {
				ended = fleet.Fail
			}
			l := lamp(r["id"], n[r["id"]], 0, to-from, ended)
			if n[r["id"]] == 1 {
				l.Entry, l.Exit = from, to
			}
			lives = append(lives, l)
		}
		s := made(t, input(lives...))
		if len(s.Repairs) != 1 {
			t.Fatalf("%s: %+v", set, s.Repairs)
		}
		k := 0
		for _, r := range rows(t, "mcf_r.csv") {
			if r["set"] != set || r["n.event"] == "0" {
				continue
			}
			st := s.Repairs[0].Curve.Steps[k]
			near(t, set+" mean", st.Mean, parse(t, r["mcf"]), 1e-9)
			near(t, set+" se", st.SE, parse(t, r["se"]), 1e-8)
			k++
		}
	}
}

// Exact binomial: 1 of 20 at 95 %: 0.001265 to 0.248732 (Clopper-Pearson, as R's
// binom.test, computed). Chi-square: 0 failures in T: upper -ln(0.05)/T
// (NIST/SEMATECH 8.4.5.1).
func TestEarlyFailuresAndRate(t *testing.T) {
	var lives []Life
	for i := range 20 {
		lives = append(lives, lamp(fmt.Sprintf("f%02d", i), 1, 0, 3000, ""))
	}
	s := made(t, input(lives...))
	g := group(t, s, "lamp type", "hps-de")
	near(t, "rate bound", g.Rate.Hi, 1e6*-math.Log(0.05)/60000, 1e-6)
	lives[0] = lamp("f00", 1, 0, 400, fleet.Fail)
	g = group(t, made(t, input(lives...)), "cohort", "lot 1")
	near(t, "early", g.Early.Centre, 0.05, 1e-12)
	near(t, "early lower", g.Early.Lo, 0.001265, 1e-6)
	near(t, "early upper", g.Early.Hi, 0.248732, 1e-6)
}

func TestFleetsAtTheEdge(t *testing.T) {
	ten := func(ended func(i int) fleet.What) []Life {
		var out []Life
		for i := range 10 {
			out = append(out, lamp(fmt.Sprintf("f%02d", i), 1, 0, 2000+100*float64(i), ended(i)))
		}
		return out
	}
	cases := []struct {
		name  string
		lives []Life
		check func(s *Summary, g *Group)
	}{
		{"no failures", ten(func(int) fleet.What { return "" }), func(s *Summary, g *Group) {
			if g.NoFit == "" || g.Median.Known() || !(g.AssumedB10.Lo > 0) || g.Say == "" || len(s.Modes) != 0 ||
				s.Scope.Failed != 0 {
				t.Errorf("no failures: %+v", g)
			}
		}},
		{"one failure", ten(func(i int) fleet.What {
			if i == 0 {
				return fleet.Fail
			}
			return ""
		}), func(s *Summary, g *Group) {
			if g.NoFit == "" || g.Failures != 1 || !g.B10.Known() || !strings.Contains(g.Say, "one failure") ||
				s.Outlook[0].InService != 9 || !s.Outlook[0].Failures.Known() {
				t.Errorf("one failure: %+v %+v", g, s.Outlook)
			}
		}},
		{"all failed", ten(func(int) fleet.What { return fleet.Fail }), func(s *Summary, g *Group) {
			if !g.Median.Known() || g.NoFit != "" || !strings.Contains(g.Say, "all have failed") || s.Scope.Failed != 10 ||
				s.Modes[0].InYear != 10 {
				t.Errorf("all failed: %+v %+v", g, s.Modes)
			}
			if s.Outlook != nil {
				t.Errorf("nothing is in service: %+v", s.Outlook)
			}
		}},
		{"one fixture", []Life{lamp("f", 1, 0, 2000, "")}, func(s *Summary, g *Group) {
			if g.Units != 1 || !strings.Contains(g.Say, "one lamp") || s.Scope.AtEnd != 1 {
				t.Errorf("one fixture: %+v", g)
			}
		}},
	}
	for _, c := range cases {
		s := made(t, input(c.lives...))
		c.check(s, group(t, s, "lamp type", "hps-de"))
	}
}

func TestYearWithoutData(t *testing.T) {
	in := input()
	in.Record = Span{0, -1}
	in.Fixtures = []Fixture{{ID: "f", HungFirst: true, HungLast: true, RoomFirst: "A", RoomLast: "A", Output: nan,
		Energy: Energy{KWh: nan}, LightPerWatt: [2]float64{nan, nan}}}
	s := made(t, in)
	if s.Scope.AtEnd != 1 || len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "Nothing has been read") ||
		s.Trend != nil {
		t.Errorf("%+v", s)
	}
	in.Record = Span{first25 - 800, first25 - 500} // read before, not in the year
	if s = made(t, in); !strings.Contains(s.Notes[0], "Nothing was read in 2025") || s.SeenDays != 0 {
		t.Errorf("%+v", s.Notes)
	}
}

func TestLeapYear(t *testing.T) {
	in := input(lamp("f", 1, 0, 2000, ""))
	in.Year, in.First, in.Last = 2024, first25-366, first25-1
	in.AsOf, in.Record = in.Last, Span{in.First, in.Last}
	s := made(t, in)
	if s.Days != 366 || s.SeenDays != 366 || len(s.Notes) == 0 || strings.Contains(strings.Join(s.Notes, " "), "covers") ||
		s.Trend[0].Days != 366 {
		t.Errorf("days %d, seen %d, notes %q, trend %+v", s.Days, s.SeenDays, s.Notes, s.Trend)
	}
}

func TestFixtureMovedTwiceCountsOnce(t *testing.T) {
	in := input(lamp("f", 1, 0, 2000, ""), lamp("g", 1, 0, 2000, ""))
	in.Fixtures[0].Moves, in.Fixtures[0].RoomFirst, in.Fixtures[0].RoomLast = 2, "A", "C"
	c := made(t, in).Scope
	if c.AtStart != 2 || c.AtEnd != 2 || c.Moved != 1 || c.Moves != 2 {
		t.Errorf("%+v", c)
	}
	want := []RoomCount{{"A", 1, 0}, {"C", 0, 1}, {"R", 1, 1}}
	if fmt.Sprint(c.Rooms) != fmt.Sprint(want) {
		t.Errorf("rooms %v, want %v", c.Rooms, want)
	}
}

// A meter that several fixtures share is counted once; what no meter tells of is
// reckoned from rated watts.
func TestEnergyCountsEachMeterOnce(t *testing.T) {
	in := input(lamp("a", 1, 0, 2000, ""), lamp("b", 1, 0, 2000, ""), lamp("c", 1, 0, 2000, ""))
	for i := range 2 {
		in.Fixtures[i].Energy = Energy{KWh: 500, Meter: "m/1", Basis: "counter"}
	}
	e := made(t, in).Scope.Energy
	if e.MeteredKWh != 500 || e.RatedKWh != 2000 || e.Total != 2500 {
		t.Errorf("%+v", e)
	}
}

func weeks(hours float64, levels ...float64) []Week {
	var out []Week
	for i, l := range levels {
		out = append(out, Week{Week: first25/7 + int32(i), Hours: hours * float64(i+1), Level: l})
	}
	return out
}

func TestOneOddWeekIsNoCrossing(t *testing.T) {
	s := smooth(weeks(100, 1, 0.99, 0.80, 0.98, 0.97, 0.96))
	if w, ok := firstUnder(s, 0.9); ok {
		t.Errorf("crossed at %+v", w)
	}
	s = smooth(weeks(100, 1, 0.95, 0.89, 0.88, 0.87, 0.86))
	if w, ok := firstUnder(s, 0.9); !ok || w.Hours != 300 {
		t.Errorf("crossed at %+v, %v", w, ok)
	}
	near(t, "level between weeks", levelAt(s, 350), (s[2].Level+s[3].Level)/2, 1e-12)
	if !math.IsNaN(levelAt(s, 50)) || !math.IsNaN(levelAt(s, 700)) {
		t.Error("a level is read off beyond the weeks")
	}
}

func TestFadedBeforeDark(t *testing.T) {
	l := lamp("a", 1, 0, 900, fleet.Fail)
	l.Weeks = weeks(100, 1, 0.95, 0.89, 0.88, 0.87, 0.86)
	ws, _ := watch([]Life{l})
	if e := ws[0].ending(); e.Cause != 2 || e.Exit != 300 {
		t.Errorf("%+v", e)
	}
}

func TestClaims(t *testing.T) {
	level := func(c, lo, hi float64) Value {
		return Value{estimate.Estimate{Centre: c, Lo: lo, Hi: hi, Level: 0.95, N: 9, Method: "m"}}
	}
	terms := &Terms{Hours: 10000, Level: 0.9, Description: "d", Path: "p"}
	for _, c := range []struct {
		name  string
		exit  float64
		ended fleet.What
		level Value
		want  Verdict // "" = no claim
	}{
		{"whole interval under", 5000, "", level(0.85, 0.83, 0.87), Stands},
		{"interval holds the level", 5000, "", level(0.89, 0.87, 0.91), Open},
		{"over", 5000, "", level(0.95, 0.94, 0.96), ""},
		{"failed inside the hours", 5000, fleet.Fail, Value{estimate.None("m", "")}, Stands},
		{"failed after them", 12000, fleet.Fail, level(0.95, 0.94, 0.96), ""},
	} {
		l := lamp("a", 1, 0, c.exit, c.ended)
		l.Warranty = terms
		in := input(l)
		in.Now = []Forecast{{Fixture: "a", Life: 1, Status: "forecast", Warranted: c.level, YearChance: nan}}
		s := made(t, in)
		got := Verdict("")
		if len(s.Claims) > 0 {
			got = s.Claims[0].Verdict
		}
		if got != c.want || s.Promised != 1 {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestScorecard(t *testing.T) {
	day := func(c, lo, hi float64) Value {
		return Value{estimate.Estimate{Centre: c, Lo: lo, Hi: hi, Level: 0.8, N: 9, Method: "m"}}
	}
	none := Value{estimate.None("m", "not crossed")}
	in := input(lamp("a", 1, 0, 5000, ""), lamp("b", 1, 0, 5000, ""), lamp("c", 1, 0, 5000, ""),
		lamp("d", 1, 0, 5000, fleet.Relamp), lamp("e", 1, 0, 5000, ""))
	f := func(id, status string, due, crossed Value) Forecast {
		return Forecast{Fixture: id, Life: 1, Status: status, DueDay: due, Crossed: crossed, YearChance: 0.5, Warranted: none}
	}
	early := float64(first25 + 50)
	in.Was = []Forecast{f("a", "forecast", day(early, early-20, early+20), none),
		f("b", "forecast", day(early, early-20, early+20), none),
		f("c", "forecast", day(early, early-20, early+20), none),
		f("d", "forecast", day(early+900, early+800, early+1000), none),
		f("e", "forecast", day(early, early-20, early+20), none)}
	in.Now = []Forecast{f("a", "under", none, day(early+10, early, early+20)),
		f("b", "under", none, day(early+40, early+30, early+50)), f("c", "forecast", none, none),
		f("e", "inseparable", none, none)}
	s := made(t, in).Score
	want := map[string]string{"a": "crossed", "b": "crossed", "c": "not crossed, though its interval is over",
		"d": "taken out before it crossed",
		"e": "cannot be judged: ageing cannot be told from drift, dirt or a step"}
	for _, x := range s.List {
		if x.Outcome != want[x.Fixture] {
			t.Errorf("%s: %s", x.Fixture, x.Outcome)
		}
	}
	if s.Said != 5 || s.Crossed != 2 || s.Judged != 3 || s.Held != 1 {
		t.Errorf("%+v", s)
	}
	near(t, "expected", s.Expected.Centre, 2.5, 1e-12)
	if s.List[1].ErrDays != -40 || !s.List[0].InBand || s.List[1].InBand {
		t.Errorf("%+v", s.List[:2])
	}
}

func TestSensorsDueForRecalibration(t *testing.T) {
	in := input()
	in.Sensors = []Sensor{{ID: "a", Watches: 3, Since: first25 - 365, Recals: []Recal{{first25 + 10, 0.98}}},
		{ID: "b", Watches: 1, Since: first25 - 100}, {ID: "c", Since: first25}}
	s := made(t, in).Sensors
	near(t, "drift", float64(s[0].Found[0].PerYear), math.Log(0.98)*365.25/375, 1e-12)
	if !s[0].Due || s[0].DueDay != first25+375 || !s[1].Due || !strings.Contains(s[1].Say, "overdue") || s[2].Due {
		t.Errorf("%+v", s)
	}
}

// Whatever the lives: no error, nothing that is not a number is written, groups
// agree with each other, and the same input gives the same bytes.
func TestAnyFleet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 25).Draw(t, "lamps")
		var lives []Life
		for i := range n {
			entry := math.Floor(rapid.Float64Range(0, 5000).Draw(t, "entry")) * float64(rapid.IntRange(0, 1).Draw(t, "late"))
			l := lamp(fmt.Sprintf("f%02d", i), 1, entry, entry+math.Floor(rapid.Float64Range(0, 8000).Draw(t, "hours")),
				rapid.SampledFrom([]fleet.What{"", fleet.Fail, fleet.Relamp, fleet.Retire}).Draw(t, "end"))
			l.LampType = rapid.SampledFrom([]fleet.LampType{fleet.HPSDE, fleet.LED}).Draw(t, "type")
			l.Model = rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "model")
			level := 1.0
			for k := range rapid.IntRange(0, 12).Draw(t, "weeks") {
				level -= rapid.Float64Range(-0.01, 0.05).Draw(t, "drop")
				l.Weeks = append(l.Weeks, Week{int32(first25/7 + k), 80 * float64(k+1), level})
			}
			lives = append(lives, l)
		}
		in := input(lives...)
		a, err := Make(in)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Make(in)
		if err != nil {
			t.Fatal(err)
		}
		ja, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		jb, _ := json.Marshal(b)
		if string(ja) != string(jb) {
			t.Fatal("twice is not the same")
		}
		sum := map[string]int{}
		for _, g := range a.Groups {
			sum[g.By] += g.Failures
		}
		if sum["lamp type"] != sum["make"] || sum["make"] != sum["cohort"] {
			t.Fatalf("groups disagree: %v", sum)
		}
	})
}

func TestLevelsMustLieBetween(t *testing.T) {
	if _, err := Make(Input{Level: 95, Interval: 0.8}); err == nil {
		t.Error("a level of 95 passed")
	}
}

func TestHindsightIsSaid(t *testing.T) {
	in := input(lamp("f", 1, 0, 2000, ""))
	says := func() bool {
		return strings.Contains(strings.Join(made(t, in).Notes, " "), "as they stood on 1 March 2026")
	}
	if says() {
		t.Error("nothing later is known, yet it is said")
	}
	if in.Known = last25 + 60; !says() {
		t.Error("the levels know of the next year, and the notes do not say so")
	}
}
