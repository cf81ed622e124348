package plans

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/ingest/problem"
	"wane/transform/plan"
)

// Money writes an amount: "EUR 1,240".
func Money(currency string, x float64) string {
	s := fmt.Sprintf("%.0f", math.Abs(x))
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if x < -0.5 {
		s = "-" + s
	}
	return strings.TrimSpace(currency + " " + s)
}

// Same is work of one kind for one reason, bay by bay.
type Same struct {
	Do, Why  string
	LampType string
	Bays     []Bay
}

// Bay is the fixtures of one bay; of work on the room as a whole, Bay is empty.
type Bay struct {
	Bay      string
	Fixtures []string
}

// Together puts a visit's work that is alike together, in the order in which it
// is met going through the room.
func Together(v plan.Visit) []Same {
	var out []Same
	for _, w := range v.Work {
		k := slices.IndexFunc(out, func(s Same) bool {
			return s.Do == string(w.Do) && s.Why == w.Why &&
				s.LampType == w.LampType
		})
		if k < 0 {
			k = len(out)
			out = append(out, Same{Do: string(w.Do), Why: w.Why, LampType: w.LampType})
		}
		bays := &out[k].Bays
		if n := len(*bays); n == 0 || (*bays)[n-1].Bay != w.Bay {
			*bays = append(*bays, Bay{Bay: w.Bay})
		}
		last := &(*bays)[len(*bays)-1]
		last.Fixtures = append(last.Fixtures, w.Fixture)
	}
	return out
}

// Title says a visit in a line: "F1: group relamp 8; EUR 881; 8 old lamps to
// hand over".
func Title(v plan.Visit, currency string) string {
	s := fmt.Sprintf("%s: %s; %s", v.Room, Work(v), Priced(v, currency))
	if v.Disposal > 0 {
		s += "; " + Count(v.Disposal, "old lamp") + " to hand over"
	}
	return s
}

// Priced is what a visit costs. Work without a price is said to have none: it is
// not free.
func Priced(v plan.Visit, currency string) string {
	without := 0
	for _, w := range v.Work {
		if w.Cost == 0 {
			without++
		}
	}
	switch {
	case v.Cost == 0:
		return "not priced"
	case without > 0:
		return fmt.Sprintf("%s, without %s that %s not priced", Money(currency, v.Cost), Count(without, "piece"),
			map[bool]string{true: "is", false: "are"}[without == 1])
	}
	return Money(currency, v.Cost)
}

// Count writes a number of things: "1 old lamp", "3 old lamps".
func Count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// mostVisitsNamed is how many visits a line names.
const mostVisitsNamed = 3

// Needs is what in the plan only a person can settle, most urgent first.
func (m *Made) Needs() []string {
	var out []string
	r := &m.Result
	late, lamps := 0, 0
	var when []string
	for _, v := range r.Visits {
		if late += v.Late; v.Late > 0 {
			when = append(when, fmt.Sprintf("room %s on %s", v.Room, v.Date.Format("2006-01-02")))
		}
	}
	for _, l := range r.Lamps {
		if l.Decision != "keep" && l.Decision != "clean" && l.Date.IsZero() {
			lamps++
		}
	}
	if late > 0 {
		out = append(out, fmt.Sprintf("%s of work later than wanted (%s): lead times, days on which work is possible or the budget "+
			"do not allow it sooner", Count(late, "piece"), problem.Few(when, mostVisitsNamed)))
	}
	if lamps > 0 {
		out = append(out, fmt.Sprintf("%s to be worked on without a day: no open window, or no money", Count(lamps, "lamp")))
	}
	for _, o := range r.Orders {
		if o.Quantity > 0 && !o.OrderBy.After(r.AsOf) {
			what := "lamp"
			if o.Item == "gear" {
				what = "piece of gear"
			}
			out = append(out, fmt.Sprintf("order now: %s for %s, needed by %s", Count(o.Quantity, what), o.LampType,
				o.NeededBy.Format("2006-01-02")))
		}
	}
	for _, p := range m.Problems {
		out = append(out, fmt.Sprintf("site.yaml: plan.%s: %s; %s", p.Path, p.What, p.Remedy))
	}
	return out
}
