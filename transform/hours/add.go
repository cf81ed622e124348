package hours

import "math"

// Start is what is known of the life before its first day.
type Start struct {
	Hours float64 // run-hours at the start of the life
	Day   int32   // local day on which the life began; the first day's own where it is not known
	First bool    // it is the fixture's first lamp in the record: the meter's face may be its own hours
}

// Add gives the life's run-hours at the end of each day from the life's start
// to last. Days without a row are filled by habit. Warnings say in words what
// was assumed.
func Add(days []Day, start Start, last int32, habit Habit) ([]Total, []string) {
	full, warnings := fill(days, start.Day, last)
	if len(full) == 0 {
		return nil, warnings
	}
	est := estimate(full, habit)
	share := meterShares(full, est, &warnings)
	out := make([]Total, len(full))
	sum, sumLo, sumHi := start.Hours, start.Hours, start.Hours
	for i := range full {
		d, e := &full[i], &est[i]
		t := Total{Day: d.Day, Method: e.method, Disagree: math.NaN()}
		burned, lo, hi := e.hours, e.lo, e.hi
		if share != nil && share[i].metered {
			burned, lo, hi = share[i].hours, share[i].hours, share[i].hours
			t.Method, t.Disagree = ByMeter, share[i].disagree
		}
		sum, sumLo, sumHi = sum+burned, sumLo+lo, sumHi+hi
		t.Burned, t.Hours, t.Lo, t.Hi = burned, sum, sumLo, sumHi
		out[i] = t
	}
	if start.First {
		if w := takeFace(out, full, start); w != "" {
			warnings = append(warnings, w)
		}
	}
	return out, warnings
}

// fill makes a row for every day from first to last; a day that nobody saw is
// a gap of 24 h.
func fill(days []Day, first, last int32) ([]Day, []string) {
	if len(days) > 0 && first > days[0].Day {
		first = days[0].Day
	}
	if last < first {
		return nil, nil
	}
	if n := len(days); n == int(last-first)+1 && days[0].Day == first && days[n-1].Day == last {
		return days, nil // nothing to fill
	}
	out := make([]Day, 0, last-first+1)
	i, silent := 0, 0
	for d := first; d <= last; d++ {
		for i < len(days) && days[i].Day < d {
			i++
		}
		if i < len(days) && days[i].Day == d {
			out = append(out, days[i])
			continue
		}
		silent++
		out = append(out, Day{Day: d, Length: 24, GapH: 24})
	}
	if silent == 0 {
		return out, nil
	}
	return out, []string{plural(silent, "day") + " without any reading, hours by the usual day"}
}

// estimated is a day's hours by lamp-on time.
type estimated struct {
	hours, lo, hi float64
	method        Method
}

// habitDays is over how many seen days the usual burning share is taken
// (common practice, no source).
const habitDays = 14

// leastSeen is the share of a day that must be seen for it to teach the usual
// burning share.
const leastSeen = 0.75

// estimate gives each day's hours without a meter. Unseen time burns as the
// room's programme says, else as the last seen days did.
func estimate(days []Day, habit Habit) []estimated {
	out := make([]estimated, len(days))
	var recent []float64 // burning share of the last seen days
	for i := range days {
		d := &days[i]
		if d.DarkFrom {
			out[i] = estimated{method: ByLit}
			continue
		}
		seen := d.LitH + d.EdgeH/2
		gap := max(0, d.GapH-d.OutageH)
		share := 0.0
		switch {
		case habit >= 0:
			share = float64(habit) / 24
		case gap > 0 && len(recent) > 0:
			for _, s := range recent {
				share += s / float64(len(recent))
			}
		}
		unseen := gap * share
		if habit >= 0 && d.GapH < d.Length { // what the day has burned already is not burned again in its gap
			unseen = min(gap, max(0, share*d.Length-seen))
		}
		e := estimated{hours: seen + unseen, lo: d.LitH, hi: d.LitH + d.EdgeH + gap, method: ByLit}
		switch {
		case d.OutageH >= d.Length:
			e.method = ByOutage
		case d.GapH > d.Length/2:
			e.method = ByHabit
		}
		out[i] = e
		if d.GapH <= (1-leastSeen)*d.Length {
			recent = append(recent, seen/(d.Length-d.GapH))
			if len(recent) > habitDays {
				recent = recent[1:]
			}
		}
	}
	return out
}
