package circuits

import (
	"context"
	"database/sql"
	"math"
	"slices"
	"time"

	"wane/queries"
	"wane/transform/supply"
)

// seen is what the histogram of one series says beforehand, so that most
// circuits need no second look.
type seen struct {
	Series
	lo, hi float64         // V, the ends of the farthest bins
	hours  map[int64]int64 // readings of each hour
}

func newSeen(s Series) seen {
	return seen{s, math.Inf(1), math.Inf(-1), map[int64]int64{}}
}

func (s *seen) add(r queries.HistogramRow) {
	s.lo, s.hi = math.Min(s.lo, float64(r.Bin)*supply.Width), math.Max(s.hi, float64(r.Bin+1)*supply.Width)
	s.hours[r.Hour] += r.Readings
}

// every is the logger's usual interval: from the readings of the usual hour, or
// asked for where it reads once an hour or less often.
func (s *seen) every(ctx context.Context, db *queries.DB, end time.Time) (time.Duration, error) {
	var n []int64
	for _, k := range s.hours {
		n = append(n, k)
	}
	slices.Sort(n)
	if len(n) > 0 {
		if k := n[len(n)/2]; k > 1 {
			return time.Duration(float64(time.Hour) / float64(k)).Round(time.Second), nil
		}
	}
	cad, err := queries.SupplyCadence(ctx, db, s.Sensor, s.Channel, end.UTC())
	if err != nil || len(cad) == 0 || !cad[0].Seconds.Valid {
		return 0, err
	}
	return time.Duration(cad[0].Seconds.V * float64(time.Second)), nil
}

// events counts sags, swells and interruptions against the nominal voltage of
// the service found. The query gives each sample outside with its neighbours,
// which is all that the detector needs to see.
func (c *Circuit) events(ctx context.Context, db *queries.DB, list []seen, end time.Time) error {
	if c.Nominal == 0 {
		return nil
	}
	for _, s := range list {
		if len(s.hours) == 0 {
			continue
		}
		every, err := s.every(ctx, db, end)
		if err != nil {
			return err
		}
		if every <= 0 {
			continue // one reading: nothing came before or after
		}
		c.Every = max(c.Every, every)
		th := supply.IEEE1159(every)
		c.Blind = th.Blind()
		if s.lo >= th.Sag*c.Nominal && s.hi <= th.Swell*c.Nominal {
			continue
		}
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
