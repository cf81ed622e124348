// Package tell decides what people are told about a site, and words it.
//
//  1. Facts are what a night found: matters that wait for somebody, each under a
//     key that stays the same while the matter does, and when each lamp is due.
//  2. Memory holds the facts as they are known now and as they were when people
//     were last told. Learn takes new ones in.
//  3. Alarms words what cannot wait, each matter once while it lasts; Digest what
//     changed since the last digest: new, settled, moved.
//  4. Both put messages into the memory's outbox. A message has an identity of
//     its own, is kept until every channel has taken it, and may be sent twice
//     where a process was killed in between (package post).
//
// Nothing here reads a clock, a file or the network.
package tell

import (
	"slices"
	"time"
)

// Kind is a class of matters.
type Kind string

// The kinds.
const (
	Bay       Kind = "bay dark"
	Night     Kind = "night failed"
	Source    Kind = "source silent" // nothing is collected from it
	Silent    Kind = "logger silent" // nothing was read by it
	Step      Kind = "unexplained step"
	Dark      Kind = "lamp dark"
	Under     Kind = "under the threshold"
	Unsettled Kind = "cannot be told apart"
	Suspect   Kind = "suspect series"
	Files     Kind = "files"
)

// kinds in the order in which they are told.
var kinds = []Kind{Bay, Night, Source, Silent, Step, Dark, Under, Unsettled, Suspect, Files}

// Duty is who sees to a kind of matter.
type Duty string

// The duties.
const (
	Lamps   Duty = "lamps"   // goes up to fixtures
	Loggers Duty = "loggers" // sees that readings come
	Records Duty = "records" // keeps the register and the logbook
)

// Duty of a kind.
func (k Kind) Duty() Duty {
	switch k {
	case Bay, Dark, Under:
		return Lamps
	case Source, Silent, Suspect, Night:
		return Loggers
	}
	return Records
}

// settles says whether it is news that a matter of the kind has gone. What was
// said of a file is said once.
func (k Kind) settles() bool { return k != Files }

// Fact is one matter.
type Fact struct {
	Key   string `json:"key"` // the same while it is the same matter
	Kind  Kind   `json:"kind"`
	Where string `json:"where"`
	What  string `json:"what"`
	Do    string `json:"do,omitempty"`
	Alarm bool   `json:"alarm,omitempty"` // cannot wait for the digest
}

// Lamp is when a lamp falls under its threshold: days as year-month-day, "" where
// there is none.
type Lamp struct {
	Due string `json:"due"`
	Lo  string `json:"lo,omitempty"`
	Hi  string `json:"hi,omitempty"`
}

// Facts is what is known of a site.
type Facts struct {
	AsOf  string          `json:"as_of,omitempty"` // the last day used, year-month-day
	Known []Kind          `json:"known"`           // the kinds that were looked for
	List  []Fact          `json:"facts"`
	Lamps map[string]Lamp `json:"lamps,omitempty"` // by fixture; nil where they were not asked
}

// with is f, with what g knows in place of what f knew of it.
func (f Facts) with(g Facts) Facts {
	out := Facts{AsOf: f.AsOf, Known: slices.Clone(f.Known), Lamps: f.Lamps}
	if g.AsOf != "" {
		out.AsOf = g.AsOf
	}
	if g.Lamps != nil {
		out.Lamps = g.Lamps
	}
	for _, x := range f.List {
		if !slices.Contains(g.Known, x.Kind) {
			out.List = append(out.List, x)
		}
	}
	out.List = append(out.List, g.List...)
	for _, k := range g.Known {
		if !slices.Contains(out.Known, k) {
			out.Known = append(out.Known, k)
		}
	}
	slices.SortStableFunc(out.List, func(a, b Fact) int {
		return slices.Index(kinds, a.Kind) - slices.Index(kinds, b.Kind)
	})
	return out
}

func (f Facts) has(key string) bool {
	return slices.ContainsFunc(f.List, func(x Fact) bool { return x.Key == key })
}

// Move is a due date that is not what was told before.
type Move struct {
	Fixture string `json:"fixture"`
	Before  Lamp   `json:"before"`
	Now     Lamp   `json:"now"`
}

// Changes are between two digests.
type Changes struct {
	New     []Fact `json:"new"`
	Settled []Fact `json:"settled"`
	Moved   []Move `json:"moved"`
	Soon    []Move `json:"soon"` // lamps that became due within the days asked for
}

// None says whether nothing changed.
func (c Changes) None() bool {
	return len(c.New)+len(c.Settled)+len(c.Moved)+len(c.Soon) == 0
}

// Compare gives what changed from before to now. A due date counts as moved where
// it lies outside the interval that was told before; a lamp as due soon once it
// is so within days of at.
func Compare(before, now Facts, at time.Time, days int) Changes {
	var c Changes
	for _, x := range now.List {
		if !before.has(x.Key) {
			c.New = append(c.New, x)
		}
	}
	for _, x := range before.List {
		if x.Kind.settles() && slices.Contains(now.Known, x.Kind) && !now.has(x.Key) {
			c.Settled = append(c.Settled, x)
		}
	}
	limit := at.AddDate(0, 0, days).Format(time.DateOnly)
	for _, id := range sortedKeys(now.Lamps) {
		was, is := before.Lamps[id], now.Lamps[id]
		soon := func(l Lamp) bool { return l.Due != "" && l.Due <= limit }
		switch {
		case before.has(string(Under) + " " + id), now.has(string(Under) + " " + id): // told as such
		case soon(is) && !soon(was):
			c.Soon = append(c.Soon, Move{id, was, is})
		case was.Due != "" && is.Due != "" && (is.Due < was.Lo || was.Hi != "" && is.Due > was.Hi):
			c.Moved = append(c.Moved, Move{id, was, is})
		}
	}
	return c
}

func sortedKeys(m map[string]Lamp) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
