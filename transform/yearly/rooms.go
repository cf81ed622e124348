package yearly

import (
	"fmt"
	"slices"

	"wane/transform/estimate"
	"wane/transform/robust"
)

// RoomLight is how a room kept its light over the year, month by month.
type RoomLight struct {
	Room   string      `json:"room"`
	Months []MonthKept `json:"months"`
}

// MonthKept is the median lamp of a room in a month; Lo and Hi hold the median
// with at least Summary.Level, and are NaN with too few lamps for that.
type MonthKept struct {
	First  int32  `json:"first_day"`
	Lamps  int    `json:"lamps"`
	Median Number `json:"median"`
	Lo     Number `json:"lo"`
	Hi     Number `json:"hi"`
}

// roomLight gives the levels as read, by room and month of the year. A lamp
// counts once a month, by the median of its weeks.
func (in *Input) roomLight() []RoomLight {
	type key struct {
		room  string
		month int32
	}
	levels := map[key][]float64{}
	for i := range in.Lives {
		l := &in.Lives[i]
		weeks := map[int32][]float64{}
		for _, w := range l.Weeks {
			if d := w.Day(); d >= in.First && d <= in.AsOf && estimate.Finite(w.Level) {
				t := date(d)
				first := d - int32(t.Day()) + 1
				weeks[first] = append(weeks[first], w.Level)
			}
		}
		for m, v := range weeks {
			k := key{l.Room, m}
			levels[k] = append(levels[k], robust.Median(v))
		}
	}
	at := map[string]int{}
	var out []RoomLight
	keys := make([]key, 0, len(levels))
	for k := range levels {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b key) int {
		if a.room != b.room {
			if a.room < b.room {
				return -1
			}
			return 1
		}
		return int(a.month - b.month)
	})
	for _, k := range keys {
		i, ok := at[k.room]
		if !ok {
			i = len(out)
			at[k.room] = i
			out = append(out, RoomLight{Room: k.room})
		}
		v := levels[k]
		slices.Sort(v)
		q := in.quantile(v, .5)
		m := MonthKept{First: k.month, Lamps: len(v), Median: Number(robust.Median(v)), Lo: Number(q.Lo), Hi: Number(q.Hi)}
		if !q.Bounded() {
			m.Lo, m.Hi = Number(nan), Number(nan)
		}
		out[i].Months = append(out[i].Months, m)
	}
	return out
}

// Findings says the year in at most five sentences: light, failures, makes, due
// dates, and what the coming year asks. What is not known is left out.
func (s *Summary) Findings() (out []string) {
	for _, say := range []func() string{s.sayLight, s.sayFailures, s.sayMakes, func() string { return s.Score.Say },
		s.sayNext} {
		if w := say(); w != "" {
			out = append(out, w)
		}
	}
	return out
}

// sayLight names the rooms that kept most and least.
func (s *Summary) sayLight() string {
	var best, worst *RoomLight
	last := func(r *RoomLight) float64 { return float64(r.Months[len(r.Months)-1].Median) }
	for i := range s.RoomLight {
		r := &s.RoomLight[i]
		if best == nil || last(r) > last(best) {
			best = r
		}
		if worst == nil || last(r) < last(worst) {
			worst = r
		}
	}
	name := func(r *RoomLight) string {
		if r.Room == "" {
			return "the lamps without a room"
		}
		return "room " + r.Room
	}
	pct := func(r *RoomLight) string {
		m := r.Months[len(r.Months)-1]
		w := fmt.Sprintf("%.0f %%", 100*m.Median)
		if estimate.Finite(float64(m.Lo)) {
			w += fmt.Sprintf(" (%.0f to %.0f %%)", 100*m.Lo, 100*m.Hi)
		}
		return w
	}
	switch {
	case best == nil:
		return ""
	case best == worst:
		return fmt.Sprintf("at the year's end the median lamp of %s gave %s of its light when new, as it hangs", name(best),
			pct(best))
	}
	return fmt.Sprintf("at the year's end the median lamp of %s gave %s of its light when new, as it hangs, and that of %s %s", name(worst), pct(worst), name(best), pct(best))
}

// sayFailures holds the year's rate against that of the year before.
func (s *Summary) sayFailures() string {
	rate := func(t *Trend) string {
		w := fmt.Sprintf("%.1f", t.Rate.Centre)
		if t.Rate.Bounded() {
			w += fmt.Sprintf(" (%.1f to %.1f)", t.Rate.Lo, t.Rate.Hi)
		}
		return w + " per million lamp-hours"
	}
	var now, before *Trend
	for i := range s.Trend {
		switch t := &s.Trend[i]; t.Year {
		case s.Year:
			now = t
		case s.Year - 1:
			before = t
		}
	}
	if now == nil || !now.Rate.Known() {
		return ""
	}
	w := fmt.Sprintf("%d lamps failed: %s", now.Failures, rate(now))
	if now.Failures == 1 {
		w = "1 lamp failed: " + rate(now)
	}
	if before != nil && before.Rate.Known() {
		w += "; the year before " + rate(before)
	}
	return w
}

// sayMakes is the clearest of the comparisons of makes.
func (s *Summary) sayMakes() string {
	best := -1
	for i, c := range s.Comparisons {
		if c.Enough && (best < 0 || c.P < s.Comparisons[best].P) {
			best = i
		}
	}
	if best >= 0 {
		return s.Comparisons[best].LampType + ": " + s.Comparisons[best].Say
	}
	if len(s.Comparisons) > 0 {
		return "too few lamps have failed to tell makes apart by how long they last"
	}
	return ""
}

// sayNext is what the coming year asks.
func (s *Summary) sayNext() string {
	lamps, lo, hi, stand := 0.0, 0.0, 0.0, 0
	for _, o := range s.Outlook {
		if o.Lamps.Known() && o.Lamps.Bounded() {
			lamps, lo, hi = lamps+o.Lamps.Centre, lo+o.Lamps.Lo, hi+o.Lamps.Hi
		}
	}
	for _, c := range s.Claims {
		if c.Verdict == Stands {
			stand++
		}
	}
	if lamps == 0 && stand == 0 {
		return ""
	}
	w := fmt.Sprintf("the coming year asks for about %.0f lamps, from %.0f to %.0f were all types at their ends", lamps,
		lo, hi)
	if s.Promised > 0 {
		w += fmt.Sprintf("; of %d lamps under warranty terms %d give a claim that stands", s.Promised, stand)
	}
	return w
}
