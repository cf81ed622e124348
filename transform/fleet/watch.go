package fleet

import "time"

// Holds says whether the row speaks of the moment.
func (s *SensorPeriod) Holds(t time.Time) bool {
	return !t.Before(s.From) && (s.To.IsZero() || t.Before(s.To))
}

// Watch finds the series that tells of a quantity at a fixture at t: one that
// watches the fixture itself, else its bay, its circuit, its room. Among equals
// the first row of the register wins. nil where there is none.
func (r *Register) Watch(f *Fixture, q Quantity, t time.Time) *SensorPeriod {
	x := r.index()
	p := x.book().placeAt(f, t)
	watching := x.series().watching
	for _, name := range [...]string{f.ID, p.Bay, p.Circuit, p.Room} {
		for _, i := range watching[name] {
			if s := &r.Sensors[i]; s.Quantity == q && s.Holds(t) {
				return s
			}
		}
	}
	return nil
}

// RowsBefore counts the rows of the sensors' table above row i that tell of the
// same quantity of the same thing watched and begin to hold no later: those that
// go before it while they hold.
func (r *Register) RowsBefore(i int) int {
	s, n := &r.Sensors[i], 0
	for _, k := range r.index().series().watching[s.Watches] {
		if int(k) >= i {
			break
		}
		if o := &r.Sensors[k]; o.Quantity == s.Quantity && !o.From.After(s.From) {
			n++
		}
	}
	return n
}

// Known says whether the register has the series at all, in whatever period.
func (r *Register) Known(sensor, channel string) bool {
	return r.index().series().known[[2]string{sensor, channel}]
}

// Calibration is one recalibration of a sensor: from At on it reads true;
// before it, its gain had drifted to AsFound (0 = not recorded).
type Calibration struct {
	At      time.Time
	AsFound float64
	Line    int // of the logbook
}

// Calibrations gives a sensor's recalibrations in time order.
func (r *Register) Calibrations(sensor string) []Calibration {
	var out []Calibration
	for _, i := range r.index().book().lines[subject{OfSensor, sensor}] {
		if e := &r.Logbook[i]; e.What == Recalibrate {
			out = append(out, Calibration{At: e.At, AsFound: e.Number, Line: e.Line})
		}
	}
	return out
}

// SetPoint is a dim set point, per cent of full power, from At on.
type SetPoint struct {
	At      time.Time
	Percent float64
}

// SetPoints gives the fixture's logged dim set points in time order; before the
// first it runs at full power.
func (r *Register) SetPoints(f *Fixture) []SetPoint {
	var out []SetPoint
	for _, i := range r.index().covering(f) {
		if e := &r.Logbook[i]; e.What == Dim {
			out = append(out, SetPoint{At: e.At, Percent: e.Number})
		}
	}
	return out
}

// Span is a stretch of time, From included, To not.
type Span struct{ From, To time.Time }

// Outages gives the stretches without power that cover the fixture.
func (r *Register) Outages(f *Fixture) []Span {
	var out []Span
	for _, i := range r.index().covering(f) {
		if e := &r.Logbook[i]; e.What == Outage {
			out = append(out, Span{From: e.At, To: e.Until})
		}
	}
	return out
}

// Watched is a stretch over which one row of the sensors' table tells of a
// fixture. To is zero where it still does.
type Watched struct {
	Row      *SensorPeriod
	From, To time.Time
}

// Watched says who watches a fixture, and when: the rows that tell of a quantity
// at it, one after the other, wherever it hung and whatever they name: the
// fixture, its bay, circuit or room.
func (r *Register) Watched(f *Fixture, q Quantity) []Watched {
	var out []Watched
	for _, at := range r.WatchChanges(f) {
		s := r.Watch(f, q, at)
		n := len(out)
		if n > 0 && out[n-1].To.IsZero() {
			if out[n-1].Row == s {
				continue
			}
			out[n-1].To = at
		}
		if s != nil {
			out = append(out, Watched{Row: s, From: at})
		}
	}
	return out
}
