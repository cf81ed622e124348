package measure

import (
	"math"
	"sort"
	"time"

	"wane/transform/plan"
)

// Limits of a choice. Zero values set none.
type Limits struct {
	Count   int
	Budget  float64 // money, of what is priced
	Minutes float64
	Paying  bool // with money on both sides only what pays for itself, and the best in any case
}

// Result is what should be measured next.
type Result struct {
	Chosen []Choice // in order: each is weighed with those before it made
	Others []Choice // every candidate by itself, best first
	// Priced says that gains and costs are money; else gains are days of intervals
	// and costs are minutes.
	Priced  bool
	Missing []string // what is not priced
	Dated   int      // lamps with a date today
	Lamps   int      // lamps on whose date something hangs, or that have one
}

// Choice is one candidate with what it would do.
type Choice struct {
	Candidate
	Cost  plan.Expense
	With  time.Time // of the planned visit that it goes with; zero: none
	Gain  float64   // money that it is expected to save; 0 where nothing is priced
	Days  float64   // sum over lamps by which intervals shrink, as far as due within the plan's horizon
	Moved int       // lamps whose interval shrinks by 5 % or more
	Dated int       // lamps that get a date
	Rate  float64   // gain for its cost, by which it is ranked
	// Of chosen ones, by the answers themselves:
	Lamps  []LampEffect // that it touches, most shrunk first
	Before float64      // median width of their intervals in days, of those with both ends
	After  float64
}

// Choose weighs every candidate and picks a set.
func Choose(in *Input, lim Limits) *Result {
	every := make([]int, len(in.Posteriors))
	for i := range every {
		every[i] = i
	}
	w := newWeigher(in, every, true)
	all := Candidates(in)
	out := &Result{}
	for i := range in.Answers {
		if dated(in.Answers[i].Status) {
			out.Dated++
		}
	}
	out.Lamps = len(in.Posteriors)
	out.Priced, out.Missing = in.priced()
	singles := w.singles(all, out.Priced)
	order := make([]int, len(all))
	for k := range order {
		order[k] = k
	}
	sort.SliceStable(order, func(a, b int) bool { return singles[order[a]].Rate > singles[order[b]].Rate })
	for _, k := range order {
		out.Others = append(out.Others, singles[k])
	}
	if lim.Count == 0 {
		lim.Count = len(all)
	}
	p := picker{w: w, all: all, limits: lim, out: out, asked: newEffects(in), been: map[string]bool{}}
	p.queue(out.Others, order)
	for len(out.Chosen) < lim.Count && p.next() {
	}
	return out
}

// priced says whether money can be reckoned with: some lamp's relamp is priced, and
// labour is.
func (in *Input) priced() (bool, []string) {
	seen, any := map[string]bool{}, false
	var missing []string
	note := func(list []string) {
		for _, m := range list {
			if !seen[m] {
				seen[m] = true
				missing = append(missing, m)
			}
		}
	}
	labour := true
	for i := range in.Lamps {
		l := &in.Lamps[i]
		any = any || l.Worth.Relamp > 0
		note(l.Worth.Missing)
		e := in.Settings.MeasureCost(plan.Recalibrate, l.Room, l.LampType, 1, true)
		labour = labour && len(e.Missing) == 0
		note(e.Missing)
	}
	return any && labour, missing
}

// singles weighs every candidate by itself.
func (w *weigher) singles(all []Candidate, priced bool) []Choice {
	out := make([]Choice, len(all))
	for k := range all { // weigh itself takes all cores
		g, _ := w.weigh(&all[k].made)
		out[k] = w.choice(&all[k], g, nil, priced)
	}
	return out
}

// choice puts a candidate beside its cost; been are the rooms that are gone to anyway.
func (w *weigher) choice(x *Candidate, g gain, been map[string]bool, priced bool) Choice {
	c := Choice{Candidate: *x, Gain: g.money, Days: g.days, Moved: g.moved, Dated: g.dated}
	there := been[x.Room]
	if day, ok := w.in.joined(x.Room); ok {
		c.With, there = day, true
	}
	if !x.On.IsZero() {
		c.With, there = x.On, true
	}
	c.Cost = w.in.Settings.MeasureCost(x.Kind, x.Room, x.LampType, x.N, there)
	for _, room := range x.Rooms[1:] {
		if !been[room] {
			more := w.in.Settings.MeasureCost(x.Kind, room, x.LampType, 0, false)
			c.Cost.Minutes, c.Cost.Money = c.Cost.Minutes+more.Minutes, c.Cost.Money+more.Money
		}
	}
	if priced {
		c.Rate = c.Gain / math.Max(c.Cost.Money, 1)
	} else {
		c.Rate = c.Days / math.Max(c.Cost.Minutes, 1)
	}
	return c
}

// picker takes the best candidate again and again. What a candidate was worth before
// the last one was taken bounds what it is worth now, nearly always: so only those at
// the head are weighed again (Minoux 1978, the lazy greedy algorithm).
type picker struct {
	w      *weigher
	all    []Candidate
	limits Limits
	out    *Result
	asked  *effects
	been   map[string]bool
	heads  []head
	spent  plan.Expense
}

type head struct {
	k, asked int // index into all; how many were chosen when it was weighed
	rate     float64
}

func (p *picker) queue(singles []Choice, order []int) {
	for n, k := range order {
		p.heads = append(p.heads, head{k, 0, singles[n].Rate})
	}
}

// next takes one more; false where none is left that fits and gains anything.
func (p *picker) next() bool {
	for len(p.heads) > 0 {
		sort.SliceStable(p.heads, func(a, b int) bool { return p.heads[a].rate > p.heads[b].rate })
		h := &p.heads[0]
		if h.rate <= 1e-9 {
			return false
		}
		x := &p.all[h.k]
		g, then := p.w.weigh(&x.made)
		c := p.w.choice(x, g, p.been, p.out.Priced)
		if !p.fits(&c) {
			p.heads = p.heads[1:]
			continue
		}
		if len(p.heads) > 1 && c.Rate < p.heads[1].rate && h.asked != len(p.out.Chosen) {
			h.rate, h.asked = c.Rate, len(p.out.Chosen)
			continue
		}
		if c.Rate <= 1e-9 {
			return false
		}
		p.heads = p.heads[1:]
		p.take(c, then)
		return true
	}
	return false
}

// fits holds a candidate to the limits.
func (p *picker) fits(c *Choice) bool {
	switch l := p.limits; {
	case l.Paying && p.out.Priced && len(p.out.Chosen) > 0 && !c.Pays():
		return false
	case l.Budget > 0 && p.spent.Money+c.Cost.Money > l.Budget:
		return false
	case l.Minutes > 0 && p.spent.Minutes+c.Cost.Minutes > l.Minutes:
		return false
	}
	return true
}

func (p *picker) take(c Choice, then []standing) {
	was := p.w.now
	p.w.take(&c.made, then)
	p.spent.Money += c.Cost.Money
	p.spent.Minutes += c.Cost.Minutes
	for _, room := range c.Rooms {
		p.been[room] = true
	}
	p.asked.after(p.w, was, &c)
	p.out.Chosen = append(p.out.Chosen, c)
}
