package suspects

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/suspect"
)

// pastDays is how far back a series is held against itself: long enough that a
// fault of some weeks is not the usual thing (common practice, no source).
const pastDays = 90

// watchedBy are the columns of the roll-up that hold other series than the
// light, by quantity.
var watchedBy = []struct {
	column   string
	quantity fleet.Quantity
}{{"supply_v", fleet.SupplyV}, {"power_w", fleet.PowerW}, {"current_a", fleet.CurrentA}}

// addPast gives the rows the daily medians of the weeks before first.
func addPast(rows map[reading.Series]*row, a *archive.Archive, s sitefolder.Site, first int32) error {
	at := calendar.Start(first, s.Config.Location)
	others := map[string][]*row{} // of a fixture, in the order of watchedBy
	taken := map[*row]bool{}
	for i := range s.Register.Fixtures {
		f := &s.Register.Fixtures[i]
		list := make([]*row, len(watchedBy))
		for k, w := range watchedBy {
			p := s.Register.Watch(f, w.quantity, at)
			if p == nil {
				continue
			}
			if r := rows[reading.Series{Sensor: p.Sensor, Channel: p.Channel}]; r != nil && !taken[r] {
				taken[r], list[k] = true, r // one fixture tells of a circuit
			}
		}
		others[f.ID] = list
	}
	dim := map[*row][]float64{}
	from := first - pastDays
	for _, p := range a.Parts(derive.TableDaily) {
		month, _, _ := strings.Cut(p.Partition, "/")
		if month < "month="+calendar.Date(from).Format("2006-01") || month > "month="+calendar.Date(first).Format("2006-01") {
			continue
		}
		cols, err := a.ReadTable(p, "fixture", "day", "sensor", "channel", "ppfd", "dim_pct", "supply_v",
			"power_w", "current_a")
		if err != nil {
			return fmt.Errorf("read daily roll-up: %w", err)
		}
		c := map[string]*archive.Column{}
		for i := range cols {
			c[cols[i].Name] = &cols[i]
		}
		number := func(name string, i int) float64 {
			if col := c[name]; col.Valid == nil || col.Valid[i] {
				return col.Float[i]
			}
			return math.NaN()
		}
		for i, day := range c["day"].Int {
			if day < int64(from) || day >= int64(first) {
				continue
			}
			add := func(r *row, v float64) {
				if r != nil && v > 0 && (r.period.From.IsZero() || day >= int64(calendar.DayOf(r.period.From, s.Config.Location))) {
					r.channel.Past = append(r.channel.Past, suspect.Level{Day: int32(day), Value: v})
				}
			}
			light := rows[reading.Series{Sensor: c["sensor"].Text[i], Channel: c["channel"].Text[i]}]
			if light != nil && light.period.Watches == c["fixture"].Text[i] {
				before := len(light.channel.Past)
				add(light, number("ppfd", i))
				if len(light.channel.Past) > before {
					dim[light] = append(dim[light], number("dim_pct", i))
				}
			}
			for k, w := range watchedBy {
				if list := others[c["fixture"].Text[i]]; list != nil {
					add(list[k], number(w.column, i))
				}
			}
		}
	}
	for r, d := range dim {
		r.channel.Past = sameDim(r.channel.Past, d)
	}
	for _, r := range rows {
		sort.SliceStable(r.channel.Past, func(i, j int) bool { return r.channel.Past[i].Day < r.channel.Past[j].Day })
	}
	return nil
}

// sameDim keeps the days whose dim state was that of the last one.
func sameDim(past []suspect.Level, dim []float64) []suspect.Level {
	if len(past) == 0 {
		return nil
	}
	last := 0
	for i := range past {
		if past[i].Day >= past[last].Day {
			last = i
		}
	}
	var out []suspect.Level
	for i := range past {
		if d := math.Abs(dim[i] - dim[last]); !(d > 1) { // not known is taken for the same
			out = append(out, past[i])
		}
	}
	return out
}
