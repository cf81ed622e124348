// Package beside words the comparison of surveyed fixtures, the same for the
// command `survey ahead` and for the page: a table, and sentences that never
// claim more than their chance allows.
package beside

import (
	"fmt"
	"math"
	"strings"

	"wane/cmd/wane/internal/show"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/forecast"
)

// Sure is the chance from which on an order of two fixtures is claimed.
const Sure = .9

// Table is a row a fixture, that which holds up best first: what was measured,
// the share of its light kept and the light on the grid at equal run-hours now
// and after years, and how far ahead of the next it is at the last.
func Table(a *due.Ahead) *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "fixture"}, {Name: "model"}, {Name: "lamp_type"}, {Name: "surveys"},
		{Name: "run_hours_now", Wide: true},
		{Name: "ppfd_first", Digits: 1, Wide: true}, {Name: "ppfd_last", Digits: 1, Wide: true},
		{Name: "min_to_avg_first", Digits: 3, Wide: true}, {Name: "min_to_avg_last", Digits: 3},
		{Name: "efficacy_first", Digits: 3, Wide: true}, {Name: "efficacy_last", Digits: 3}}}
	for i, y := range a.Years {
		inner := i > 0 && i+1 < len(a.Years)
		for _, c := range []struct {
			name   string
			digits int
			wide   bool
		}{{"kept_%gy", 3, inner}, {"kept_%gy_lo", 3, inner}, {"kept_%gy_hi", 3, inner}, {"ppfd_%gy", 1, inner},
			{"ppfd_%gy_lo", 1, true},
			{"ppfd_%gy_hi", 1, true}, {"run_hours_%gy", 0, i > 0}} {
			t.Columns = append(t.Columns, show.Column{Name: fmt.Sprintf(c.name, y), Digits: c.digits, Wide: c.wide})
		}
	}
	for _, n := range []string{"over_next", "over_next_lo", "over_next_hi", "chance"} {
		t.Columns = append(t.Columns, show.Column{Name: n, Digits: 3, Wide: n == "over_next_lo" || n == "over_next_hi"})
	}
	for n, k := range a.Lamps {
		row := []any{k.Life.Fixture.ID, k.Model, string(k.Life.LampType), k.Levels[0].N, k.Now, k.First.Average.Centre,
			k.Last.Average.Centre,
			k.First.MinAvg.Centre, k.Last.MinAvg.Centre, k.First.Efficacy.Centre, k.Last.Efficacy.Centre}
		for i, e := range k.Levels {
			p := k.Light[i]
			row = append(row, e.Centre, e.Lo, e.Hi, p.Centre, p.Lo, p.Hi, a.Hours[i])
		}
		if h, ok := OverNext(a, n); ok {
			row = append(row, h.Ratio.Centre, h.Ratio.Lo, h.Ratio.Hi, h.First)
		} else {
			row = append(row, nil, nil, nil, nil)
		}
		t.Add(row...)
	}
	return t
}

// Pairs is each two against each other, age by age.
func Pairs(a *due.Ahead) *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "better"}, {Name: "than"}, {Name: "years", Digits: 0},
		{Name: "run_hours", Digits: 0},
		{Name: "ratio", Digits: 3}, {Name: "ratio_lo", Digits: 3}, {Name: "ratio_hi", Digits: 3},
		{Name: "chance", Digits: 2}}}
	for _, p := range a.Pairs {
		for i, h := range p.At {
			t.Add(p.A, p.B, a.Years[i], h.Hours, h.Ratio.Centre, h.Ratio.Lo, h.Ratio.Hi, h.First)
		}
	}
	return t
}

// OverNext is how far a fixture of the table is ahead of the one below it after
// the last of the years.
func OverNext(a *due.Ahead, n int) (forecast.Holding, bool) {
	if n+1 >= len(a.Lamps) {
		return forecast.Holding{}, false
	}
	return last(a, n, n+1)
}

// last is two fixtures of the table, by their rows, after the last of the years.
func last(a *due.Ahead, better, worse int) (forecast.Holding, bool) {
	p, ok := a.Pair(a.Lamps[better].Life.Fixture.ID, a.Lamps[worse].Life.Fixture.ID)
	if !ok {
		return forecast.Holding{}, false
	}
	return p.At[len(p.At)-1], true
}

// Finding says in a sentence which holds up best. With fewer than two fixtures it
// says that there is nothing to compare.
func Finding(a *due.Ahead) string {
	n := len(a.Lamps)
	if n < 2 {
		return "fewer than two fixtures can be compared yet"
	}
	name := func(i int) string { return a.Lamps[i].Life.Fixture.ID }
	years := a.Years[len(a.Years)-1]
	var front []string // the first, and those not told apart from it
	for i := range n {
		if h, _ := last(a, 0, max(i, 1)); i == 0 || h.First < Sure {
			front = append(front, name(i))
		}
	}
	behind, _ := last(a, 0, n-1)
	switch {
	case len(front) == n:
		return fmt.Sprintf("%s are not told apart over %g years (%s keeps more than %s with a chance of %s)", list(front),
			years, name(0), name(n-1), Chance(behind.First))
	case n == 2:
		return fmt.Sprintf("%s holds up better than %s: %s more of its light left after %g years; chance %s", name(0),
			name(1), More(behind), years, Chance(behind.First))
	case len(front) == 1:
		return fmt.Sprintf("%s holds up best of %d: %s more of its light left than %s after %g years; chance %s", name(0), n,
			More(behind), name(n-1), years, Chance(behind.First))
	}
	return fmt.Sprintf("%s hold up best of %d and are not told apart; %s keeps %s more of its light than %s after %g years; chance %s",
		list(front), n, name(0), More(behind), name(n-1), years, Chance(behind.First))
}

func list(names []string) string {
	if len(names) > 5 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:4], ", "), len(names)-4)
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// Words says of each two which holds up better.
func Words(p due.KeptPair, years []float64) string {
	end := p.At[len(p.At)-1]
	if end.First < Sure {
		return fmt.Sprintf("%s and %s: not told apart over %g years (%s keeps more with a chance of %s)", p.A, p.B,
			years[len(years)-1], p.A, Chance(end.First))
	}
	var ages []string
	for i := len(p.At) - 2; i < len(p.At); i++ {
		ages = append(ages, fmt.Sprintf("%s after %g years", More(p.At[i]), years[i]))
	}
	return fmt.Sprintf("%s holds up better than %s: %s; chance %s", p.A, p.B, strings.Join(ages, ", "), Chance(end.First))
}

// More writes how much more of its light the first of two keeps, with signs where
// it may be less.
func More(h forecast.Holding) string {
	format := "%.1f %% (%.1f to %.1f)"
	if h.Ratio.Lo < 1 {
		format = "%+.1f %% (%+.1f to %+.1f)"
	}
	pct := func(v float64) float64 { return 100 * (v - 1) }
	return fmt.Sprintf(format, pct(h.Ratio.Centre), pct(h.Ratio.Lo), pct(h.Ratio.Hi))
}

// Chance never claims certainty, nor rounds up to it.
func Chance(p float64) string {
	if p > .99 {
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", math.Floor(100*p))
}

// Measured says whether any of the fixtures has a number, such as its efficacy.
func Measured(a *due.Ahead, of func(*due.Kept) estimate.Estimate) bool {
	for i := range a.Lamps {
		if of(&a.Lamps[i]).Known() {
			return true
		}
	}
	return false
}
