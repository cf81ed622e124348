package plans

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/plan"
	"wane/transform/robust"
)

// watts is what a fixture draws at its full set point.
type watts struct {
	watts  float64 // 0 = not measured
	rated  float64 // 0 = not known, or not to be compared
	shared int     // fixtures on the same meter
}

// fullPct is the set point from which on power counts as full.
const fullPct = 99

// powers gives each fixture the median of its power over the last days at full
// set point. A meter that serves several is shared out by their rated watts; of
// such a share no one fixture's gear can be judged, so its rating is left out.
func (g *gatherer) powers() map[string]watts {
	reg := g.res.Register
	type meter struct{ sensor, channel string }
	on := map[string]meter{}
	rated, count, blank := map[meter]float64{}, map[meter]int{}, map[meter]bool{}
	for i := range g.res.Due {
		l := g.res.Due[i].Life
		p := reg.Watch(l.Fixture, fleet.PowerW, g.end)
		if p == nil || l.Dark() { // a dark lamp draws next to nothing of a shared meter
			continue
		}
		m := meter{p.Sensor, p.Channel}
		on[l.Fixture.ID] = m
		rated[m] += l.Fixture.RatedW
		count[m]++
		blank[m] = blank[m] || l.Fixture.RatedW <= 0
	}
	out := map[string]watts{}
	for i := range g.res.Due {
		f := g.res.Due[i].Life.Fixture
		m, ok := on[f.ID]
		if !ok {
			continue
		}
		var v []float64
		for _, r := range g.late[f.ID] {
			if r.PowerW.Valid && r.PowerW.V > 0 && r.DimPct.Valid && r.DimPct.V >= fullPct {
				v = append(v, r.PowerW.V)
			}
		}
		if len(v) < lateDays/4 {
			continue
		}
		w := watts{watts: robust.Sort(v), rated: f.RatedW, shared: count[m]}
		if count[m] > 1 {
			if blank[m] {
				continue
			}
			w.watts, w.rated = w.watts*f.RatedW/rated[m], 0
		}
		out[f.ID] = w
	}
	return out
}

// onShare is the share of its usual burning current above which a lamp is on: a
// discharge lamp that runs up draws more than its usual current, one that is
// out draws what its gear leaks.
const onShare = 0.3

// cycling finds the discharge lamps that come on more often than they are
// switched: by a meter of current or power of their own where there is one, by
// their light otherwise.
func (g *gatherer) cycling(ctx context.Context, db *queries.DB) (map[string]bool, error) {
	days := map[string][]plan.DayEdges{}
	first := g.res.AsOf - cycleDays + 1
	var hung []*lamp.Life
	for i := range g.res.Due {
		l := g.res.Due[i].Life
		if _, ok := plan.RestrikeOf(string(l.LampType)); !ok || l.Dark() {
			continue
		}
		hung = append(hung, l)
		d := make([]plan.DayEdges, cycleDays)
		for _, r := range g.late[l.Fixture.ID] {
			// the day of a relamp shows both lamps
			if k := calendar.DayOf(r.Day, time.UTC); k >= first && k > l.FirstDay {
				d[k-first] = plan.DayEdges{On: int(r.Starts), Off: int(r.Starts), HoursOn: r.BurnedH}
			}
		}
		if err := g.edges(ctx, db, l, first, d); err != nil {
			return nil, err
		}
		days[l.Fixture.ID] = d
	}
	g.programme(hung, days)
	out := map[string]bool{}
	for _, l := range hung {
		v := plan.Cycling(string(l.LampType), days[l.Fixture.ID], dips(l, hung, days))
		out[l.Fixture.ID] = v.Cycling
	}
	return out, nil
}

// cycleDays is how many days are looked at for lamps that cycle.
const cycleDays = 14

// edges counts from a series of the fixture's own, where there is one.
func (g *gatherer) edges(ctx context.Context, db *queries.DB, l *lamp.Life, first int32, d []plan.DayEdges) error {
	for _, q := range []fleet.Quantity{fleet.CurrentA, fleet.PowerW} {
		p := g.res.Register.Watch(l.Fixture, q, g.end)
		if p == nil || p.Watches != l.Fixture.ID {
			continue
		}
		rows, err := queries.OnEdges(ctx, db, p.Sensor, p.Channel, onShare, calendar.Start(first, g.loc), g.end)
		if err != nil {
			return err
		}
		if len(rows) == 0 {
			continue
		}
		for k := range d {
			d[k].On, d[k].Off, d[k].HoursOn = 0, 0, 0
		}
		for i, r := range rows {
			k := calendar.DayOf(r.Time, g.loc) - first
			if k < 0 || int(k) >= len(d) || first+k <= l.FirstDay {
				continue
			}
			if !r.Lit {
				d[k].Off++
				continue
			}
			d[k].On++
			out := g.end
			if i+1 < len(rows) {
				out = rows[i+1].Time
			}
			g.burned(d, first, r.Time, out)
		}
		return nil
	}
	return nil
}

// burned adds the hours between two moments to the days they fall on.
func (g *gatherer) burned(d []plan.DayEdges, first int32, from, to time.Time) {
	for from.Before(to) {
		k := calendar.DayOf(from, g.loc)
		end := calendar.Start(k+1, g.loc)
		if end.After(to) {
			end = to
		}
		if int(k-first) < len(d) {
			d[k-first].HoursOn += end.Sub(from).Hours()
		}
		from = end
	}
}

// programme takes the room's own median day for what was switched: how often
// its lamps came on, and how long they burned.
func (g *gatherer) programme(hung []*lamp.Life, days map[string][]plan.DayEdges) {
	rooms := map[string][]string{}
	for _, l := range hung {
		rooms[l.Place.Room] = append(rooms[l.Place.Room], l.Fixture.ID)
	}
	for _, ids := range rooms {
		for k := range cycleDays {
			var on, hours []float64
			for _, id := range ids {
				on, hours = append(on, float64(days[id][k].On)), append(hours, days[id][k].HoursOn)
			}
			slices.Sort(on)
			slices.Sort(hours)
			for _, id := range ids {
				d := &days[id][k]
				d.Scheduled, d.HoursDue = int(on[(len(on)-1)/2]), hours[len(hours)/2]
			}
		}
	}
}

// dips are the days on which half of the other lamps of the circuit, and one at
// least, restarted too: then it was the supply.
func dips(l *lamp.Life, hung []*lamp.Life, days map[string][]plan.DayEdges) map[int]bool {
	out := map[int]bool{}
	for k := range cycleDays {
		others, too := 0, 0
		for _, o := range hung {
			if o == l || o.Place.Circuit == "" || o.Place.Circuit != l.Place.Circuit {
				continue
			}
			others++
			if d := days[o.Fixture.ID][k]; d.On > max(1, d.Scheduled) {
				too++
			}
		}
		if too > 0 && float64(too) >= math.Ceil(float64(others)/2) {
			out[k] = true
		}
	}
	return out
}

// namesGear says whether words of the logbook blame the gear.
func namesGear(words string) bool {
	words = strings.ToLower(words)
	for _, w := range []string{"ballast", "driver", "ignitor", "igniter", "capacitor", "gear", "choke"} {
		if strings.Contains(words, w) {
			return true
		}
	}
	return false
}
