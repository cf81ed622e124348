package circuits

import (
	"context"
	"fmt"
	"math"
	"sort"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/queries"
	"wane/transform/fleet"
	"wane/transform/supply"
)

// Circuit is what is known of the voltage at one place: a circuit, or whatever
// else a voltage series watches.
type Circuit struct {
	Name       string
	Fixtures   []*fleet.Fixture
	Registered float64   // V that its fixtures are registered for, 0 = none
	Others     []float64 // further registered voltages, where its fixtures differ
	Series     []Series
	Why        string // why nothing below is known; "" where it is

	Readings    int64
	First, Last time.Time
	Every       time.Duration // the logger's usual interval

	Profile supply.Profile // against the published range of the registered voltage
	// Seen is the profile against the range of the service found, where that is
	// not the registered one.
	Seen    *supply.Profile
	Finding supply.Finding

	Nominal float64 // V, what events are counted against
	Events  []supply.Event
	Blind   string

	Rated   []Rated
	Effects []Effect
}

// Series is one voltage series over one period.
type Series struct{ *fleet.SensorPeriod }

// Site is all circuits of a site.
type Site struct {
	AsOf     int32
	Circuits []*Circuit // by name
	Phases   []Unbalance
	NoPhases string // what it would take to tell unbalance, where no phases are declared
}

// Asking is what to gather.
type Asking struct {
	Site  derive.Site
	Lives []*derive.Life // as of the day
	AsOf  int32
	Only  map[string]bool // circuits by name; empty: all
}

// Gather reads every circuit's voltages up to the end of a day.
func Gather(ctx context.Context, db *queries.DB, q Asking) (*Site, error) {
	loc := q.Site.Config.Location
	end := derive.Start(q.AsOf+1, loc)
	out := &Site{AsOf: q.AsOf}
	for _, c := range list(q.Site.Register, end) {
		if len(q.Only) > 0 && !q.Only[c.Name] {
			continue
		}
		if err := c.read(ctx, db, q, end); err != nil {
			return nil, err
		}
		out.Circuits = append(out.Circuits, c)
	}
	var err error
	out.Phases, out.NoPhases, err = unbalance(ctx, db, q, end)
	return out, err
}

// Names lists the circuits that Gather would give.
func Names(reg *fleet.Register, at time.Time) []string {
	var out []string
	for _, c := range list(reg, at) {
		out = append(out, c.Name)
	}
	return out
}

// list finds what the voltage series watch, and the circuits that none watches.
func list(reg *fleet.Register, end time.Time) []*Circuit {
	by := map[string]*Circuit{}
	get := func(name string) *Circuit {
		if by[name] == nil {
			by[name] = &Circuit{Name: name}
		}
		return by[name]
	}
	for i := range reg.Sensors {
		if p := &reg.Sensors[i]; p.Quantity == fleet.SupplyV && p.Watches != "" && p.From.Before(end) {
			c := get(p.Watches)
			c.Series = append(c.Series, Series{p})
		}
	}
	at := end.Add(-time.Microsecond)
	for i := range reg.Fixtures {
		f := &reg.Fixtures[i]
		if reg.Retired(f) {
			continue
		}
		if p := reg.Watch(f, fleet.SupplyV, at); p != nil {
			c := get(p.Watches)
			c.Fixtures = append(c.Fixtures, f)
		} else if k := reg.PlaceAt(f, at).Circuit; k != "" {
			c := get(k)
			c.Fixtures = append(c.Fixtures, f)
		}
	}
	var out []*Circuit
	for _, c := range by {
		c.registered()
		out = append(out, c)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// registered takes the voltage that most of the fixtures are registered for.
func (c *Circuit) registered() {
	n := map[float64]int{}
	for _, f := range c.Fixtures {
		if f.RatedV > 0 {
			n[f.RatedV]++
		}
	}
	var vs []float64
	for v := range n {
		vs = append(vs, v)
	}
	sort.Slice(vs, func(i, j int) bool {
		if n[vs[i]] != n[vs[j]] {
			return n[vs[i]] > n[vs[j]]
		}
		return vs[i] < vs[j]
	})
	if len(vs) > 0 {
		c.Registered, c.Others = vs[0], vs[1:]
	}
}

func (c *Circuit) read(ctx context.Context, db *queries.DB, q Asking, end time.Time) error {
	if len(c.Series) == 0 {
		c.Why = "no voltage series watches it: register one in register/sensors.csv (quantity supply_v)"
		return nil
	}
	loc := q.Site.Config.Location
	cells := map[[3]int64]int64{}
	hours := map[int64]bool{}
	var seen []seen
	for _, s := range c.Series {
		it := newSeen(s)
		rows, err := queries.SupplyHistogram(ctx, db, s.Sensor, s.Channel, s.Factor, end.UTC())
		if err != nil {
			return err
		}
		for _, r := range rows {
			at := time.Unix(r.Hour*3600, 0)
			if !s.Holds(at) {
				continue
			}
			hours[r.Hour] = true
			it.add(r)
			c.Readings += r.Readings
			if c.First.IsZero() || at.Before(c.First) {
				c.First = at
			}
			if at.After(c.Last) {
				c.Last = at
			}
			at = at.In(loc)
			cells[[3]int64{int64(at.Month()), int64(at.Hour()), r.Bin}] += r.Readings
		}
		seen = append(seen, it)
	}
	if c.Readings == 0 {
		c.Why = fmt.Sprintf("no reading of %s/%s was taken in yet", c.Series[0].Sensor, c.Series[0].Channel)
		return nil
	}
	h := supply.Histogram{Bins: bins(cells), PerHour: math.Max(1, float64(c.Readings)/float64(len(hours)))}
	if err := c.judge(h, q); err != nil {
		return fmt.Errorf("circuit %s: %w", c.Name, err)
	}
	if c.Why != "" {
		return nil
	}
	if err := c.events(ctx, db, seen, end); err != nil {
		return err
	}
	if err := c.ratings(q); err != nil {
		return err
	}
	c.effects(q)
	return nil
}

func bins(cells map[[3]int64]int64) []supply.Bin {
	var out []supply.Bin
	for k, n := range cells {
		out = append(out, supply.Bin{Month: int(k[0]), Hour: int(k[1]), V: (float64(k[2]) + .5) * supply.Width, N: n})
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		switch {
		case a.Month != b.Month:
			return a.Month < b.Month
		case a.Hour != b.Hour:
			return a.Hour < b.Hour
		}
		return a.V < b.V
	})
	return out
}

// judge makes the profile and names the service.
func (c *Circuit) judge(h supply.Histogram, q Asking) (err error) {
	lat := q.Site.Config.Latitude
	opt := supply.Options{South: lat != nil && *lat < 0}
	within, ok := RangeOf(c.Registered)
	if c.Profile, err = supply.Profiled(h, within, opt); err != nil {
		return err
	}
	if whole, ok := c.Profile.Whole(); !ok || whole.Median.Centre <= 1 {
		c.Why = "it reads 0 V at the median: the circuit was dead, or the logger is not connected"
		return nil
	}
	if c.Finding, err = supply.Identify(supply.Input{Circuit: c.Name, Registered: c.Registered, Profile: c.Profile}); err != nil {
		return err
	}
	found := c.Finding.Confidence != "none"
	c.Nominal = c.Registered
	if found {
		c.Nominal = c.Finding.Best.Nominal
	}
	if c.Nominal == 0 {
		whole, _ := c.Profile.Whole()
		c.Nominal = whole.Median.Centre
	}
	if found && (!ok || !c.Finding.Agrees) {
		seen, err := supply.Profiled(h, c.Finding.Best.Range, opt)
		if err != nil {
			return err
		}
		c.Seen = &seen
		if !ok {
			c.Profile = seen
		}
	}
	return nil
}

// RangeOf gives the published service range of a registered voltage; ok is
// false, and nothing lies outside, where none is known.
func RangeOf(v float64) (supply.Limit, bool) {
	if v > 0 {
		for _, k := range supply.Connections() {
			if math.Abs(v/k.Nominal-1) < .01 {
				return k.Range, true
			}
		}
	}
	return supply.Limit{Nominal: "not known", Kind: "no published range", Min: 0, Max: math.Inf(1), Source: "none"}, false
}
