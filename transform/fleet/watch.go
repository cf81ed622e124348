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
	p := r.PlaceAt(f, t)
	var best *SensorPeriod
	rank := 4
	for i := range r.Sensors {
		s := &r.Sensors[i]
		if s.Quantity != q || !s.Holds(t) || s.Watches == "" {
			continue
		}
		for k, name := range [...]string{f.ID, p.Bay, p.Circuit, p.Room} {
			if k < rank && name == s.Watches {
				best, rank = s, k
			}
		}
	}
	return best
}

// Known says whether the register has the series at all, in whatever period.
func (r *Register) Known(sensor, channel string) bool {
	for i := range r.Sensors {
		if r.Sensors[i].Sensor == sensor && r.Sensors[i].Channel == channel {
			return true
		}
	}
	return false
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
	for _, e := range r.Logbook {
		if e.What == Recalibrate && e.Scope == OfSensor && e.ID == sensor {
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
	for _, e := range r.Events(f) {
		if e.What == Dim {
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
	for _, e := range r.Events(f) {
		if e.What == Outage {
			out = append(out, Span{From: e.At, To: e.Until})
		}
	}
	return out
}
