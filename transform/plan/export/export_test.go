package export

import (
	"bytes"
	"encoding/csv"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"wane/transform/estimate"
	"wane/transform/plan"
)

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

func result() plan.Result {
	return plan.Result{
		AsOf: day("2027-03-01"), Currency: "EUR", Cautions: plan.Cautions(),
		Visits: []plan.Visit{{Date: day("2027-07-05"), Room: "Growroom, über; \\1", Disposal: 2, Work: []plan.WorkItem{
			{Bay: "1", Fixture: "A01", LampType: "hps-de", Life: 1, Do: plan.GroupRelamp, Why: "goes with its room", Cost: 84.5},
			{Bay: "1", Fixture: "=A02", LampType: "hps-de", Life: 2, Do: plan.GroupRelamp, Why: "-2 %, falls", Cost: 84.5},
			{Fixture: "all", Do: plan.Clean, Why: "dirt\nline two", Cost: 76},
		}}},
		Orders: []plan.Order{{OrderBy: day("2027-06-14"), NeededBy: day("2027-07-05"), Item: "lamp", LampType: "hps-de",
			Planned: 2, Spares: 3, FromStock: 1, Quantity: 4, Cost: 300},
			{OrderBy: day("2027-06-14"), NeededBy: day("2027-07-05"), Item: "gear", LampType: "hps-de", Planned: 1,
				FromStock: 1}},
		Lamps: []plan.LampPlan{{Fixture: "@A03", Decision: plan.Keep, Reasons: []string{"kept: too young"},
			LossPerYear: estimate.None("x", "y"), Interval: plan.Interval{Known: true, Hours: 12345.67891, Lo: 10000,
				HiOpen: true, Hi: 150000}}},
	}
}

// unfold undoes the folding of RFC 5545 section 3.1 and checks its rules.
func unfold(t *testing.T, b []byte) []string {
	t.Helper()
	if !bytes.HasSuffix(b, []byte("\r\n")) || bytes.Count(b, []byte("\n")) != bytes.Count(b, []byte("\r\n")) ||
		bytes.Count(b, []byte("\r")) != bytes.Count(b, []byte("\r\n")) {
		t.Fatal("lines must end with CRLF and nothing else")
	}
	var out []string
	for _, l := range strings.Split(strings.TrimSuffix(string(b), "\r\n"), "\r\n") {
		if len(l) > 75 || !utf8.ValidString(l) {
			t.Fatalf("line of %d octets, valid %v: %q", len(l), utf8.ValidString(l), l)
		}
		if strings.HasPrefix(l, " ") {
			out[len(out)-1] += l[1:]
			continue
		}
		out = append(out, l)
	}
	return out
}

func TestCalendar(t *testing.T) {
	b := Calendar(result(), "Site A")
	lines := unfold(t, b)
	text := strings.Join(lines, "\n")
	for _, want := range []string{
		"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:" + prodID, "DTSTAMP:20270301T000000Z",
		"DTSTART;VALUE=DATE:20270705\nDTEND;VALUE=DATE:20270706",
		`SUMMARY:Room Growroom\, über\; \\1: group relamp 2\, clean`,
		`LOCATION:Growroom\, über\; \\1`, "DTSTART;VALUE=DATE:20270614", `SUMMARY:Order 4 hps-de\, lamp`,
		`\nOld lamps to hand over: 2.\nIsolate and lock out`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q:\n%s", want, text)
		}
	}
	// An order wholly from the store is no errand.
	if n := strings.Count(text, "BEGIN:VEVENT"); n != 2 || strings.Count(text, "END:VEVENT") != n ||
		lines[len(lines)-1] != "END:VCALENDAR" {
		t.Errorf("%d events", n)
	}
	ids := map[string]bool{}
	for _, l := range lines {
		if strings.HasPrefix(l, "UID:") {
			ids[l] = true
		}
	}
	if len(ids) != 2 {
		t.Errorf("uids %v", ids)
	}
	if !bytes.Equal(b, Calendar(result(), "Site A")) {
		t.Error("not the same bytes again")
	}
	for id := range ids {
		if strings.Contains(string(Calendar(result(), "Site B")), id) {
			t.Errorf("two sites share %s", id)
		}
	}
}

func FuzzCalendarText(f *testing.F) {
	for _, s := range []string{"", "plain", "a,b;c\\d", "line\r\ntwo\rthree\nfour", strings.Repeat("ü", 80),
		"\x00\x7f\xff", "BEGIN:VEVENT"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r := result()
		r.Visits[0].Room, r.Visits[0].Work[0].Fixture = s, s
		lines := unfold(t, Calendar(r, s))
		want := len(unfold(t, Calendar(result(), "Site A")))
		if s == "" {
			want-- // no room, no LOCATION
		}
		if len(lines) != want {
			t.Fatalf("text made its own lines: %d, want %d", len(lines), want)
		}
	})
}

func TestTables(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"lamps":  {Lamps(result()), []string{"'@A03", "12345.6789", "kept: too young"}},
		"orders": {Orders(result()), []string{"2027-06-14,2027-07-05,lamp,hps-de,4,2,3,1,300,EUR,false,"}},
		"work":   {Work(result()), []string{"'=A02", `"'-2 %, falls"`, `,all,,,clean,76,EUR,`}},
	} {
		rows, err := csv.NewReader(strings.NewReader(c.text)).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %v, %v", name, rows, err)
		}
		for _, w := range c.want {
			if !strings.Contains(c.text, w) {
				t.Errorf("%s lacks %q:\n%s", name, w, c.text)
			}
		}
		if strings.Contains(c.text, "NaN") || strings.Contains(c.text, "Inf") {
			t.Errorf("%s: not a number written", name)
		}
	}
}

func FuzzPlain(f *testing.F) {
	for _, s := range []string{"=1+1", "-5", "-5e3", "+49", "@x", "\tx", "a", "-x", "|calc", "-Inf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := Plain(s)
		if got != s && got != "'"+s {
			t.Fatalf("%q became %q", s, got)
		}
		if got != "" && (strings.ContainsRune("=@\t\r\n|", rune(got[0])) ||
			(strings.ContainsRune("+-", rune(got[0])) && strings.Trim(got, "0123456789.eE+-") != "")) {
			t.Fatalf("%q may start a formula", got)
		}
	})
}

func TestNumberIsEmptyForWhatIsNotKnown(t *testing.T) {
	for x, want := range map[float64]string{math.Inf(1): "", math.Inf(-1): "", 0: "0", 1.5: "1.5"} {
		if got := number(x); got != want {
			t.Errorf("%g: %q", x, got)
		}
	}
	if number(math.NaN()) != "" {
		t.Error("NaN written")
	}
}
