package forecast

import (
	"cmp"
	"math"
	"slices"
)

// together makes one step of what most lamps under a sensor did in the same days, and of
// that under several sensors. What few of them did, each did alone: two lamps replaced in
// one week are no change of the supply.
func (m *model) together(all []Step) []Step {
	slices.SortStableFunc(all, func(a, b Step) int { return cmp.Compare(a.After, b.After) })
	var out, most []Step
	for _, of := range together(all, func(a, b Step) bool { return a.Groups[0] == b.Groups[0] }) {
		sum := merged(of)
		g := sum.Groups[0]
		under := m.count(m.groupOf[g].lamps, sum, func(l *Lamp) bool { return l.groupOn(sum.After) == g })
		if 2*len(sum.Lamps) >= under {
			most = append(most, sum)
		} else {
			out = append(out, of...)
		}
	}
	for _, of := range together(most, func(a, b Step) bool { return true }) {
		sum := merged(of)
		room := m.in.Lamps[sum.Lamps[0]].Room
		// Sensors of one lamp each don't tell by themselves whether it was more than the lamp.
		if len(sum.Lamps) > len(sum.Groups) ||
			4*len(sum.Lamps) >= m.count(m.lamps, sum, func(l *Lamp) bool { return l.Room == room }) {
			out = append(out, sum)
		} else {
			out = append(out, of...)
		}
	}
	slices.SortStableFunc(out, func(a, b Step) int { return cmp.Compare(a.After, b.After) })
	return out
}

// everywhere lets all lamps of the site that were read over a step have made it, where
// most of them did under several sensors: under the others something logged may hide it,
// and their lamps would be taken to have aged by it, and with them their type.
func (m *model) everywhere(s *Step) {
	if s.Relamp || s.Sensors < 2 || 5*s.Under < 2*m.count(m.lamps, *s, func(*Lamp) bool { return true }) {
		return
	}
	day := (s.Before + s.After) / 2
	for _, l := range m.lamps {
		if l.readOver(s.Before, s.After) && !contains(s.Groups, m.in.Lamps[l.in].groupOn(s.After)) {
			s.Lamps, s.Days = append(s.Lamps, l.in), append(s.Days, day)
		}
	}
}

// count counts the lamps of a kind that were read before and after a step.
func (m *model) count(lamps []*lampState, s Step, of func(*Lamp) bool) (n int) {
	for _, l := range lamps {
		if l.readOver(s.Before, s.After) && of(&m.in.Lamps[l.in]) {
			n++
		}
	}
	return n
}

// readOver says whether a lamp was read before some days and after them.
func (l *lampState) readOver(before, after int) bool {
	n := len(l.bins)
	return n > 0 && l.bins[0].Day < after && l.bins[n-1].Day > before
}

// together puts steps of the same days and direction side by side, where they may go with each other.
func together(all []Step, may func(a, b Step) bool) [][]Step {
	const longest = 35 // days from the first to the last
	var out [][]Step
	for _, s := range all {
		k := slices.IndexFunc(out, func(of []Step) bool {
			first, last := of[0], of[len(of)-1]
			return s.Before <= last.After+binDays && s.After-first.Before <= longest && s.Size*first.Size > 0 && may(first, s)
		})
		if k < 0 {
			out = append(out, []Step{s})
		} else {
			out[k] = append(out[k], s)
		}
	}
	return out
}

// merged is one step of several.
func merged(of []Step) Step {
	out := of[0]
	out.Lamps, out.Days, out.Groups = slices.Clone(out.Lamps), slices.Clone(out.Days), slices.Clone(out.Groups)
	for _, s := range of[1:] {
		n, b := float64(len(out.Lamps)), float64(len(s.Lamps))
		out.Size = (n*out.Size + b*s.Size) / (n + b)
		out.SD = math.Min(out.SD, s.SD)
		out.Lamps, out.Days = append(out.Lamps, s.Lamps...), append(out.Days, s.Days...)
		for _, g := range s.Groups {
			if !contains(out.Groups, g) {
				out.Groups = append(out.Groups, g)
			}
		}
		out.Before, out.After = max(out.Before, s.Before), min(out.After, s.After)
	}
	out.After = max(out.After, out.Before+1)
	return out
}
