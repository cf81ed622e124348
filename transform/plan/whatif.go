package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"wane/transform/estimate"
)

// Alternative is another input to plan by, and its name in the table.
type Alternative struct {
	Name  string
	Input Input
}

// Comparison is today's plan beside its alternatives and two habits.
type Comparison struct {
	Days  int // horizon
	Draws int
	Seed  uint64
	Rows  []Row // today's plan, the alternatives, fixed hours, on failure
	Notes []string
}

// Row is one way of keeping the lamps over the horizon. Each estimate is the
// mean over the draws with the interval that holds 80 % of them.
type Row struct {
	Name    string
	Cost    estimate.Estimate // work + value of the light lost - gain in the lamps' own value; money
	Work    estimate.Estimate // lamps, gear, labour, lifts, disposal; money
	Light   estimate.Estimate // value of the light lost; money, zero where light has no price
	Left    estimate.Estimate // straight-line value of the lamps at the end less that of today's; money
	LostMol estimate.Estimate // mol at the canopy; zero where PPFD or area is unknown
	Visits  estimate.Estimate
	Lamps   estimate.Estimate // lamps used
}

// defaultDraws is enough for the mean cost of a hundred lamps to stand to about one per cent.
const defaultDraws = 200

// HabitHours are the hours at which the habit of fixed hours replaces all:
// 10,000 h for discharge lamps in greenhouses (common practice, no source);
// 36,000 h for LED (the asked Q90 of horticultural fixtures, from memory).
func HabitHours(lampType string) float64 {
	if lampType == "led" {
		return 36000
	}
	return 10000
}

// WhatIf simulates today's plan, the alternatives and the two habits over the
// forecast distribution: in each draw every lamp has one crossing hour and one
// life, the same under every way of keeping it. draws 0 = 200. The seed is the
// base input's.
//
// Cleaning is left out: it does not change what a relamp gains, and RoomPlan
// weighs it. Prices are each alternative's own; the habits pay today's.
func WhatIf(base Input, alts []Alternative, draws int) Comparison {
	if draws <= 0 {
		draws = defaultDraws
	}
	c := Comparison{Days: base.Settings.horizon(), Draws: draws, Seed: base.Seed}
	_, today := build(base)
	ref := reference(today)
	if len(today) == 0 {
		c.Notes = append(c.Notes, "no lamp could be planned, so there is nothing to compare")
		return c
	}
	run := func(name string, qs []*lot, h habit) {
		c.Rows = append(c.Rows, simulate(name, qs, h, ref, c.Days, draws, base.Seed))
	}
	run("today's plan", today, byPlan)
	for _, a := range alts {
		a.Input.AsOf = base.AsOf
		a.Input.Settings.HorizonDays = c.Days
		_, qs := build(a.Input)
		run(a.Name, qs, byPlan)
	}
	run("replace all at fixed hours", today, byHours)
	run("replace on failure", today, byFailure)
	blind, unpriced, immortal := 0, 0, 0
	for _, q := range today {
		for _, k := range q.lamps {
			if len(k.f.slopes) == 0 {
				blind++
			}
			if k.v.perHour == 0 {
				unpriced++
			}
			if !k.life.known() {
				immortal++
			}
		}
	}
	if blind > 0 {
		c.Notes = append(c.Notes, fmt.Sprintf("%d lamps have no forecast, own or of their type: they are taken to keep their light", blind))
	}
	if unpriced > 0 {
		c.Notes = append(c.Notes, fmt.Sprintf("light has no price for %d lamps: their costs hold work only, which favours replacing late", unpriced))
	}
	if immortal > 0 {
		c.Notes = append(c.Notes, fmt.Sprintf("no failure law is known for %d lamps: they do not fail here, which favours replacing on failure", immortal))
	}
	c.Notes = append(c.Notes, "lamps count with what they are worth at the end, on a straight line, less what they are worth today; cleaning, and gear of lamps that still burn, are left out of every row")
	return c
}

type habit int

const (
	byPlan habit = iota
	byHours
	byFailure
)

// reference is the age over which a lamp's value is written off, by lamp type:
// today's spot interval, else the habit's hours. One for all rows.
func reference(qs []*lot) map[string]float64 {
	out := map[string]float64{}
	for _, q := range qs {
		h := HabitHours(q.lampType)
		if q.how.spotHours > 0 {
			h = q.how.spotHours
		}
		out[q.lampType] = math.Max(out[q.lampType], h)
	}
	return out
}

func simulate(name string, qs []*lot, h habit, ref map[string]float64, days, draws int, seed uint64) Row {
	var cost, work, light, left, mol, visits, lamps []float64
	for d := 0; d < draws; d++ {
		t := tally{days: float64(days), lifted: map[visitKeyDay]bool{}}
		law := rand.New(rand.NewPCG(seed, uint64(d)<<1|1)).NormFloat64()
		for _, q := range qs {
			for _, k := range q.lamps {
				rng := rand.New(rand.NewPCG(seed^textHash(k.Fixture), uint64(d)<<1))
				t.live(q, k, h, law, rng, ref[q.lampType])
			}
		}
		cost = append(cost, t.work+t.light-t.left)
		work, light, left = append(work, t.work), append(light, t.light), append(left, t.left)
		mol, visits, lamps = append(mol, t.mol), append(visits, float64(t.visits)), append(lamps, float64(t.lamps))
	}
	return Row{Name: name, Cost: spreadOf(cost), Work: spreadOf(work), Light: spreadOf(light), Left: spreadOf(left),
		LostMol: spreadOf(mol), Visits: spreadOf(visits), Lamps: spreadOf(lamps)}
}

// textHash is FNV-1a, so that a fixture has the same luck wherever it stands in the list.
func textHash(s string) uint64 {
	h := uint64(14695981039346656037)
	for i := 0; i < len(s); i++ {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	return h
}

func spreadOf(x []float64) estimate.Estimate {
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	at := func(p float64) float64 { return s[int(math.Round(p*float64(len(s)-1)))] }
	return estimate.Estimate{Centre: mean, Lo: at(0.1), Hi: at(0.9), Level: 0.8, N: len(x),
		Method: "simulation over the forecast distribution"}
}
