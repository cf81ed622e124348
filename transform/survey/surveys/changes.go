package surveys

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/survey"
)

// Change is a later survey of a fixture against the first.
type Change struct {
	First, Later *Entry
	survey.Change
}

// Compare sets one survey against another of the same geometry.
func (b *Book) Compare(first, later *Entry) (Change, error) {
	c, err := survey.Compare(first.Used, later.Used, b.Visits[first.Visit], b.Visits[later.Visit],
		b.uncertainty(first, later))
	if err != nil {
		return Change{}, err
	}
	if first.Fixture == later.Fixture {
		for _, at := range b.relamps(first, later) {
			c.Warnings = append(c.Warnings, fmt.Sprintf("a new lamp was put in on %s: the change of level is not one lamp's",
				at.Format("2006-01-02")))
		}
	}
	for _, e := range []*Entry{first, later} {
		for _, f := range e.Flags {
			if f.What != "fixture" {
				c.Warnings = append(c.Warnings, e.ID+": "+f.Words)
			}
		}
		for _, k := range e.Corrections {
			c.Warnings = append(c.Warnings, e.ID+": "+k.Words)
		}
	}
	return Change{first, later, c}, nil
}

// Without says what the change would have been taken for without the reference
// fixture; "" where there was none, or where it makes no difference.
func (c Change) Without() string {
	if !c.Rig.Drift.Known() || c.Rig.State != survey.RigMoved {
		return ""
	}
	pct := func(e estimate.Estimate) string {
		return fmt.Sprintf("%+.1f %% (%+.1f to %+.1f)", 100*(e.Centre-1), 100*(e.Lo-1), 100*(e.Hi-1))
	}
	w := fmt.Sprintf("only the reference fixture shows this: as read the change is %s, since the rig itself moved by %s",
		pct(c.RawLevel), pct(c.Rig.Drift))
	if c.Level.Hi < 1 && c.RawLevel.Hi >= 1 {
		w += "; without the reference the fading would not have been seen"
	}
	return w
}

// relamps gives when the fixture got new lamps between two surveys.
func (b *Book) relamps(first, later *Entry) []time.Time {
	if b.reg == nil {
		return nil
	}
	f := b.reg.Fixture(first.Fixture)
	if f == nil {
		return nil
	}
	var out []time.Time
	for _, e := range b.reg.Events(f) {
		if e.What == fleet.Relamp && e.At.After(first.TakenAt) && !e.At.After(later.TakenAt) {
			out = append(out, e.At)
		}
	}
	return out
}

// Changes sets each survey of a fixture against its first. What cannot be
// compared is said in words.
func (b *Book) Changes(fixture string) (out []Change, why []string) {
	es := b.Of(fixture)
	for i := 1; i < len(es); i++ {
		c, err := b.Compare(es[0], es[i])
		if err != nil {
			why = append(why, err.Error())
			continue
		}
		out = append(out, c)
	}
	return out, why
}

// Chart is the control chart of the reference fixture.
func (b *Book) Chart() (survey.Chart, error) {
	if b.Reference == "" {
		return survey.Chart{}, fmt.Errorf("no reference fixture is declared: write `survey: {reference: NAME}` in site.yaml and survey that fixture on each visit; without it rig and fixture cannot be told apart")
	}
	return survey.ReferenceChart(b.Visits, 0)
}

// Slope is the rig's drift in per cent a year.
func (b *Book) Slope() estimate.Estimate {
	u := b.rig.Uncertainty
	level := u.Level
	if level == 0 {
		level = .95
	}
	return survey.Slope(b.Visits, level)
}

// Repeat is how well readings of one fixture repeat within a visit, measured
// where it was surveyed more than once.
type Repeat struct {
	Fixture string
	Visit   int
	Rounds  int
	Pct     estimate.Estimate // standard deviation of a reading, per cent
}

// Repeats measures what the declared repeat_pct assumes.
func (b *Book) Repeats() []Repeat {
	u := b.rig.Uncertainty
	if u.Level == 0 {
		u.Level = .95
	}
	var out []Repeat
	for v, visit := range b.Visits {
		by, names := map[string][]survey.Survey{}, []string{}
		for _, s := range append(append([]survey.Survey{}, visit.References...), visit.Fixtures...) {
			if by[s.Fixture] == nil {
				names = append(names, s.Fixture)
			}
			by[s.Fixture] = append(by[s.Fixture], s)
		}
		for _, f := range names {
			if len(by[f]) > 1 {
				out = append(out, Repeat{f, v, len(by[f]), survey.Repeat(by[f], u.Level)})
			}
		}
	}
	return out
}

// RigAt is what the reference says of the rig on a visit against the first
// visit on which it was surveyed.
func (b *Book) RigAt(visit int) survey.Rig {
	return survey.RigBetween(b.Visits[b.base()], b.Visits[visit], b.rig.Uncertainty)
}

// RigState says in a word and in a sentence what the reference tells of a
// visit; the first one with the reference is what others are held against.
func (b *Book) RigState(visit int) (word, words string) {
	r := b.RigAt(visit)
	if visit == b.base() && r.State != survey.RigUnknown {
		return "first", "the first visit with the reference fixture: later ones are held against it"
	}
	words, _, _ = strings.Cut(r.Words, "; the change below")
	return string(r.State), words
}

// base is the visit to which the rig is brought back: the first one with the
// reference fixture.
func (b *Book) base() int {
	for i, v := range b.Visits {
		if len(v.References) > 0 {
			return i
		}
	}
	return 0
}

// SideBySide ranks the fixtures of one visit, each by its last survey there.
func (b *Book) SideBySide(visit int) (survey.Ranking, error) {
	last := map[string]*Entry{}
	for _, e := range b.Entries {
		if e.Visit == visit && !e.Reference {
			last[e.Fixture] = better(last[e.Fixture], e)
		}
	}
	return b.rank(last, true)
}

// Latest gives a fixture's latest survey that stands under the rig's geometry
// and is complete, or the latest of all; nil where it has none.
func (b *Book) Latest(fixture string) *Entry {
	var out *Entry
	for _, e := range b.Of(fixture) {
		out = better(out, e)
	}
	return out
}

// better gives the later survey, unless it is one that cannot stand beside
// others and the earlier can.
func better(old, e *Entry) *Entry {
	if old == nil || e.standard() || !old.standard() {
		return e
	}
	return old
}

// standard says whether the survey is complete and under the rig's geometry.
func (e *Entry) standard() bool {
	for _, f := range e.Flags {
		if f.What == "grid" || f.What == "height" {
			return false
		}
	}
	return len(e.Missing()) == 0
}

func (b *Book) rank(by map[string]*Entry, sameVisit bool) (survey.Ranking, error) {
	var names []string
	for f := range by {
		names = append(names, f)
	}
	sort.Strings(names)
	var ss []survey.Survey
	var es []*Entry
	for _, f := range names {
		ss, es = append(ss, by[f].Used), append(es, by[f])
	}
	if len(ss) < 2 {
		return survey.Ranking{}, fmt.Errorf("%d fixture: a comparison side by side needs at least two", len(ss))
	}
	return survey.SideBySide(ss, sameVisit, b.uncertainty(es...))
}

// Beside ranks chosen surveys, one a fixture.
func (b *Book) Beside(es []*Entry) (survey.Ranking, error) {
	by, same := map[string]*Entry{}, true
	for _, e := range es {
		if by[e.Fixture] != nil {
			return survey.Ranking{}, fmt.Errorf("fixture %s is named twice (%s and %s); choose one survey of it", e.Fixture,
				by[e.Fixture].ID, e.ID)
		}
		by[e.Fixture] = e
		same = same && e.Visit == es[0].Visit
	}
	return b.rank(by, same)
}

// HoursOf gives a fixture's run-hours of its present lamp at a moment.
type HoursOf func(fixture string, at time.Time) (hours float64, ok bool)

// ByAge compares fixtures at steps of run-hours, each on the straight line
// between its surveys, the rig's drift taken out by the reference fixture.
func (b *Book) ByAge(hours HoursOf, step float64) (steps []survey.AgeStep, why []string, err error) {
	var hs []survey.History
	var anchor *Entry
	for _, e := range b.Entries {
		if e.standard() && !e.Reference {
			anchor = e
			break
		}
	}
	for _, f := range b.Fixtures() {
		h := survey.History{Fixture: f}
		es := b.Of(f)
		for i, e := range es {
			if i > 0 && len(b.relamps(es[i-1], e)) > 0 {
				h.Points = nil // another lamp: its own history
			}
			if anchor != nil {
				if err := survey.Comparable(anchor.Used, e.Used); err != nil {
					why = append(why, err.Error())
					continue
				}
			}
			at, ok := hours(f, e.TakenAt)
			if !ok {
				why = append(why, fmt.Sprintf("survey %s: the run-hours of %s on that day are not known", e.ID, f))
				continue
			}
			p, _, err := survey.AgedOf(e.Used, at, b.Visits[b.base()], b.Visits[e.Visit], b.uncertainty(e))
			if err != nil {
				why = append(why, err.Error())
				continue
			}
			h.Points = append(h.Points, p)
		}
		hs = append(hs, h)
	}
	u := b.rig.Uncertainty
	if u.Level == 0 {
		u.Level = .95
	}
	steps, err = survey.ByAge(hs, step, u.Level)
	return steps, why, err
}
