package forecast

// Truncate gives the input as it would have stood on an earlier day: bins,
// lamp lives, relamps, cleanings, recalibrations and reference readings dated
// later are left out, run-hours and burning habit are read off the bins of
// the time. Indices of lamps and groups stay. The original is not changed;
// bins are shared with it.
func (in *Input) Truncate(asOf int) Input {
	out := *in
	out.AsOf, out.Found = asOf, nil
	out.Lamps = make([]Lamp, len(in.Lamps))
	for i := range in.Lamps {
		l := in.Lamps[i]
		if l.Ended && l.EndDay <= asOf {
			out.Lamps[i] = l
			continue
		}
		l.Ended, l.EndDay = false, 0
		// Dark carries no date: what is dark now burnt then, unless its
		// readings had stopped.
		l.Dark = false
		l.Bins = usableBins(l.Bins, asOf)
		l.Group = l.groupOn(asOf)
		if asOf < in.AsOf {
			l.HoursNow, l.Burn = hoursAsOf(&l, asOf)
		}
		n := 0
		for n < len(l.Cleanings) && l.Cleanings[n].Day <= asOf {
			n++
		}
		l.Cleanings = l.Cleanings[:n:n]
		out.Lamps[i] = l
	}
	out.Groups = make([]Group, len(in.Groups))
	for k := range in.Groups {
		g := in.Groups[k]
		var rc []Recal
		for _, r := range g.Recals {
			if r.Day <= asOf {
				rc = append(rc, r)
			}
		}
		var rf []Reference
		for _, r := range g.References {
			if r.Day <= asOf {
				rf = append(rf, r)
			}
		}
		g.Recals, g.References = rc, rf
		out.Groups[k] = g
	}
	return out
}

// hoursAsOf reads run-hours and habit off bins that end by a day.
func hoursAsOf(l *Lamp, asOf int) (float64, Burn) {
	b := l.Bins
	n := len(b)
	if n == 0 {
		return 0, Burn{RelSD: l.Burn.RelSD}
	}
	k := n - 1
	for k > 0 && b[k].Day-b[k-1].Day >= 0 && b[n-1].Day-b[k-1].Day <= 365 {
		k--
	}
	// From the beginning of the life where it is shorter than a year.
	day, hours := b[k].Day, b[k].Hours
	if k == 0 && l.StartDay < day && day-l.StartDay < 365 {
		day, hours = l.StartDay, l.StartHours
	}
	burn := Burn{RelSD: l.Burn.RelSD, Days: b[n-1].Day - day}
	if burn.Days > 0 {
		burn.PerDay = max(0, (b[n-1].Hours-hours)/float64(burn.Days))
	}
	return b[n-1].Hours + burn.PerDay*float64(asOf-b[n-1].Day), burn
}
