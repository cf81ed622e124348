package hours

import "slices"

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
	return Begin(start).Add(days, last, habit)
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
// room's programme says, else as the last seen days did: recent is the burning
// share of those before the first day, and what comes back of those up to the
// last.
func estimate(days []Day, recent []float64, habit Habit) ([]estimated, []float64) {
	out := make([]estimated, len(days))
	recent = slices.Clone(recent)
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
	return out, recent
}
