package hours

import "math"

// Sum is where the adding up of a life stands at the end of a day, all that is
// needed to go on from there. Nothing that comes later changes the days up to
// one on which it is Settled.
type Sum struct {
	Start         Start
	Day           int32
	Hours, Lo, Hi float64   // h by the witnesses, from Start on
	Recent        []float64 // burning share of the last seen days
	Meter         float64   // the last reading of the meter, h
	MeterAt       int64     // and its moment, microseconds UTC; 0 = never read
	MeterDay      int32
	Face          *Face // nil where the meter's first face was not taken for hours
}

// Begin is the sum before a life's first day.
func Begin(start Start) Sum {
	return Sum{Start: start, Day: start.Day - 1, Hours: start.Hours, Lo: start.Hours, Hi: start.Hours}
}

// Settled says whether no stretch of the meter is open: its next reading will be
// spread over days that are still to come. Of a meter never read nothing is
// open yet; see Holds.
func (s *Sum) Settled() bool { return s.MeterAt == 0 || s.MeterDay == s.Day }

// Holds says whether the sum stands in front of these days: the first reading
// of a first lamp's meter may tell the hours of all days before it.
func (s *Sum) Holds(days []Day) bool {
	if s.MeterAt != 0 || !s.Start.First || s.Day < s.Start.Day {
		return true
	}
	for i := range days {
		if days[i].MeterAt != 0 {
			return false
		}
	}
	return true
}

// Total is the life's hours at the end of the sum's day.
func (s *Sum) Total() Total {
	t := Total{Day: s.Day, Hours: s.Hours, Lo: s.Lo, Hi: s.Hi, Disagree: math.NaN()}
	if s.Face != nil {
		t = s.Face.moved(t)
	}
	return t
}

// Add gives the hours at the end of each day after the sum's to last.
func (s Sum) Add(days []Day, last int32, habit Habit) ([]Total, []string) {
	out, _, warnings := s.Through(days, last, habit)
	return out, warnings
}

// Through is Add; it also gives the sum at the end of the last day.
func (s Sum) Through(days []Day, last int32, habit Habit) ([]Total, Sum, []string) {
	full, warnings := fill(days, s.Day+1, last)
	if len(full) == 0 {
		return nil, s, warnings
	}
	est, recent := estimate(full, s.Recent, habit)
	share := meterShares(full, est, face{s.MeterAt != 0, s.MeterAt, s.Meter}, &warnings)
	out := make([]Total, len(full))
	for i := range full {
		d, e := &full[i], &est[i]
		t := Total{Day: d.Day, Method: e.method, Disagree: math.NaN()}
		burned, lo, hi := e.hours, e.lo, e.hi
		if share != nil && share[i].metered {
			burned, lo, hi = share[i].hours, share[i].hours, share[i].hours
			t.Method, t.Disagree = ByMeter, share[i].disagree
		}
		s.Hours, s.Lo, s.Hi = s.Hours+burned, s.Lo+lo, s.Hi+hi
		t.Burned, t.Hours, t.Lo, t.Hi = burned, s.Hours, s.Lo, s.Hi
		out[i] = t
	}
	switch {
	case s.Face != nil:
		for i := range out {
			out[i] = s.Face.moved(out[i])
		}
	case s.Start.First && s.MeterAt == 0:
		var w string
		if s.Face, w = takeFace(out, full, s.Start); w != "" {
			warnings = append(warnings, w)
		}
	}
	s.Day, s.Recent = last, recent
	for i := range full {
		if d := &full[i]; d.MeterAt != 0 {
			s.Meter, s.MeterAt, s.MeterDay = d.Meter, d.MeterAt, d.Day
		}
	}
	return out, s, warnings
}
