package circuits

import (
	"context"
	"fmt"
	"sort"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/supply"
)

// Circuit is what is known of the voltage at one place: a circuit, or whatever
// else a voltage series watches.
type Circuit struct {
	Name       string
	Fixtures   []*fleet.Fixture
	Registered float64   // V that its fixtures are registered for, 0 = none
	Others     []float64 // further registered voltages, where its fixtures differ
	Series     []*fleet.SensorPeriod
	Readings   int64
	supply.Circuit
	Events  []supply.Event
	Blind   string // what a logger of this interval cannot see
	Rated   []Rated
	Effects []Effect
}

// Site is all circuits of a site.
type Site struct {
	AsOf     int32
	Circuits []*Circuit // by name
	Phases   []Phases
	NoPhases string // what it would take to tell unbalance, where no phases are declared
}

// Asking is what to gather.
type Asking struct {
	Site  sitefolder.Site
	Lives []*lamp.Life // as of the day
	AsOf  int32
	Only  map[string]bool // circuits by name; empty: all
}

// Gather reads every circuit's voltages up to the end of a day.
func Gather(ctx context.Context, db *queries.DB, q Asking) (*Site, error) {
	loc := q.Site.Config.Location
	end := calendar.Start(q.AsOf+1, loc)
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
	out.Phases, out.NoPhases, err = unbalances(ctx, db, q, end)
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
			c.Series = append(c.Series, p)
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
		var rated []float64
		for _, f := range c.Fixtures {
			rated = append(rated, f.RatedV)
		}
		c.Registered, c.Others = supply.Registered(rated)
		out = append(out, c)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// read asks for a circuit's voltages and has them judged.
func (c *Circuit) read(ctx context.Context, db *queries.DB, q Asking, end time.Time) error {
	if len(c.Series) == 0 {
		c.Why = "no voltage series watches it: register one in register/sensors.csv (quantity supply_v)"
		return nil
	}
	loc := q.Site.Config.Location
	var count supply.Counter
	hours := map[int64]bool{}
	var logs []voltageLog
	for _, s := range c.Series {
		l := newLog(s)
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
			l.add(r)
			c.Readings += r.Readings
			at = at.In(loc)
			count.Add(int(at.Month()), at.Hour(), r.Bin, r.Readings)
		}
		logs = append(logs, l)
	}
	if c.Readings == 0 {
		c.Why = fmt.Sprintf("no reading of %s/%s was taken in yet", c.Series[0].Sensor, c.Series[0].Channel)
		return nil
	}
	h := supply.Histogram{Bins: count.Bins(), PerHour: max(1, float64(c.Readings)/float64(len(hours)))}
	lat := q.Site.Config.Latitude
	var err error
	if c.Circuit, err = supply.Judge(c.Name, c.Registered, h, lat != nil && *lat < 0); err != nil {
		return fmt.Errorf("circuit %s: %w", c.Name, err)
	}
	if c.Why != "" {
		return nil
	}
	if err := c.events(ctx, db, logs, end); err != nil {
		return err
	}
	if err := c.ratings(q); err != nil {
		return err
	}
	c.effects(q)
	return nil
}
