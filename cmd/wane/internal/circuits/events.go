package circuits

import (
	"cmp"
	"context"
	"database/sql"
	"maps"
	"math"
	"slices"
	"time"

	"wane/queries"
	"wane/transform/fleet"
	"wane/transform/supply"
)

// voltageLog is what the histogram of one series says beforehand, so that most
// circuits need no second look.
type voltageLog struct {
	*fleet.SensorPeriod
	lo, hi float64         // V, the ends of the farthest bins
	hours  map[int64]int64 // readings of each hour
}

func newLog(s *fleet.SensorPeriod) voltageLog {
	return voltageLog{s, math.Inf(1), math.Inf(-1), map[int64]int64{}}
}

func (l *voltageLog) add(r queries.HistogramRow) {
	l.lo, l.hi = math.Min(l.lo, float64(r.Bin)*supply.Width), math.Max(l.hi, float64(r.Bin+1)*supply.Width)
	l.hours[r.Hour] += r.Readings
}

// every is the logger's usual interval: from the readings of the usual hour, or
// asked for where it reads once an hour or less often.
func (l *voltageLog) every(ctx context.Context, db *queries.DB, end time.Time) (time.Duration, error) {
	if d, ok := supply.UsualInterval(slices.Collect(maps.Values(l.hours))); ok {
		return d, nil
	}
	cad, err := queries.SupplyCadence(ctx, db, l.Sensor, l.Channel, end.UTC())
	if err != nil || len(cad) == 0 || !cad[0].Seconds.Valid {
		return 0, err
	}
	return time.Duration(cad[0].Seconds.V * float64(time.Second)), nil
}

// events counts sags, swells and interruptions against the nominal voltage of
// the service found.
func (c *Circuit) events(ctx context.Context, db *queries.DB, logs []voltageLog, end time.Time) error {
	if c.Nominal == 0 {
		return nil
	}
	for _, l := range logs {
		if len(l.hours) == 0 {
			continue
		}
		every, err := l.every(ctx, db, end)
		if err != nil {
			return err
		}
		if every <= 0 {
			continue // one reading: nothing came before or after
		}
		th := supply.IEEE1159(every)
		c.Blind = th.Blind()
		if l.lo >= th.Sag*c.Nominal && l.hi <= th.Swell*c.Nominal {
			continue
		}
		found, err := l.outside(ctx, db, c.Nominal, th, end)
		if err != nil {
			return err
		}
		c.Events = append(c.Events, found...)
	}
	return nil
}

// outside has the samples outside judged. The query gives each with its
// neighbours, which is all that the detector needs to see.
func (l *voltageLog) outside(ctx context.Context, db *queries.DB, nominal float64, th supply.Thresholds,
	end time.Time) ([]supply.Event, error) {
	rows, err := queries.SupplyOutside(ctx, db, l.Sensor, l.Channel, l.Factor, th.Sag*nominal, th.Swell*nominal, end.UTC())
	if err != nil {
		return nil, err
	}
	d, err := supply.NewDetector(nominal, th)
	if err != nil {
		return nil, err
	}
	var last time.Time
	add := func(at sql.Null[time.Time], v queries.Null) error {
		if !at.Valid || !v.Valid || !at.V.After(last) || !l.Holds(at.V) {
			return nil
		}
		last = at.V
		return d.Add(supply.Sample{At: at.V, V: v.V})
	}
	for _, r := range rows {
		if err := cmp.Or(add(r.TimeBefore, r.VoltsBefore),
			add(sql.Null[time.Time]{V: r.Time, Valid: true}, queries.Null{V: r.Volts, Valid: true}),
			add(r.TimeAfter, r.VoltsAfter)); err != nil {
			return nil, err
		}
	}
	return d.Events(), nil
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
