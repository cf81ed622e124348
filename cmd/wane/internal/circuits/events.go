package circuits

import (
	"context"
	"database/sql"
	"time"

	"wane/queries"
	"wane/transform/supply"
)

// events counts sags, swells and interruptions against the nominal voltage of
// the service found. The query gives each sample outside with its neighbours,
// which is all that the detector needs to see.
func (c *Circuit) events(ctx context.Context, db *queries.DB, end time.Time) error {
	if c.Nominal == 0 {
		return nil
	}
	for _, s := range c.Series {
		cad, err := queries.SupplyCadence(ctx, db, s.Sensor, s.Channel, end.UTC())
		if err != nil {
			return err
		}
		if len(cad) == 0 || !cad[0].Seconds.Valid || cad[0].Seconds.V <= 0 {
			continue
		}
		every := time.Duration(cad[0].Seconds.V * float64(time.Second))
		if every > c.Every {
			c.Every = every
		}
		th := supply.IEEE1159(every)
		rows, err := queries.SupplyOutside(ctx, db, s.Sensor, s.Channel, s.Factor, th.Sag*c.Nominal, th.Swell*c.Nominal, end.UTC())
		if err != nil {
			return err
		}
		d, err := supply.NewDetector(c.Nominal, th)
		if err != nil {
			return err
		}
		var last time.Time
		add := func(at sql.Null[time.Time], v queries.Null) error {
			if !at.Valid || !v.Valid || !at.V.After(last) || !s.Holds(at.V) {
				return nil
			}
			last = at.V
			return d.Add(supply.Sample{At: at.V, V: v.V})
		}
		for _, r := range rows {
			for _, x := range []struct {
				at sql.Null[time.Time]
				v  queries.Null
			}{
				{r.TimeBefore, r.VoltsBefore}, {sql.Null[time.Time]{V: r.Time, Valid: true}, queries.Null{V: r.Volts, Valid: true}}, {r.TimeAfter, r.VoltsAfter},
			} {
				if err := add(x.at, x.v); err != nil {
					return err
				}
			}
		}
		c.Events = append(c.Events, d.Events()...)
		c.Blind = th.Blind()
	}
	return nil
}

// Count counts the events of a kind.
func (c *Circuit) Count(k supply.Kind) int {
	n := 0
	for _, e := range c.Events {
		if e.Kind == k {
			n++
		}
	}
	return n
}
