package plan

import (
	"fmt"
	"math"
	"sort"
	"time"

	"wane/transform/estimate"
	"wane/transform/plan/spares"
)

// FailuresOf gives, by lamp type, how many lamps will fail until a delivery ordered at
// the next review can be here: the law behind the spares of a plan.
func FailuresOf(in Input) map[string]spares.Forecast {
	_, laws := spareLines(in, cases(in, soundLamps(in)))
	return laws
}

// spareLines predicts the failures of each lamp type until a delivery ordered
// at the next review can be here, and the spares that keep the service level.
func spareLines(in Input, all []*lampCase) (out []SparesLine, sums map[string]spares.Forecast) {
	sums = map[string]spares.Forecast{}
	types := map[string][]*lampCase{}
	for _, k := range all {
		types[k.LampType] = append(types[k.LampType], k)
	}
	level := in.Settings.serviceLevel()
	for _, name := range sortedKeys(types) {
		ks := types[name]
		line := SparesLine{LampType: name, ServiceLevel: level, OnHand: max(0, in.Settings.Stock[name].Lamps)}
		for _, k := range ks {
			line.Days = math.Max(line.Days, k.t.leadLamp+reviewDays)
		}
		// Lamps that share a life law share its error; laws of different cohorts
		// are taken as independent and their counts added.
		laws := map[spares.Law][]spares.Exposure{}
		var order []spares.Law
		for _, k := range ks {
			if !k.life.known() || k.Status == "dark" {
				continue
			}
			law := k.life.law()
			if laws[law] == nil {
				order = append(order, law)
			}
			laws[law] = append(laws[law], spares.Exposure{Age: k.HoursNow, Hours: line.Days * k.BurnPerDay})
			line.Lamps++
		}
		if line.Lamps == 0 {
			line.Failures = estimate.None("spares", "no failure law is known for this lamp type")
			line.Notes = append(line.Notes, "no failure law is known for this lamp type: no spares are reckoned. Log "+
				"failures in the logbook, or keep as many spares as failed in the worst such span so far")
			out = append(out, line)
			continue
		}
		sum := spares.Forecast{PMF: []float64{1}}
		for _, law := range order {
			f, err := spares.New(laws[law], law)
			if err != nil {
				line.Notes = append(line.Notes, err.Error())
				continue
			}
			sum = sum.Plus(f)
		}
		line.Failures = sum.Estimate(defaultInterval, line.Lamps)
		line.Stock, line.Achieved = sum.Spares(level)
		out, sums[name] = append(out, line), sum
	}
	return out, sums
}

// reserve takes the spares out of the stock that planned work may use; dark
// lamps are served before the reserve is filled.
func reserve(in Input, lines []SparesLine, acts []*action) map[string]Stock {
	free := map[string]Stock{}
	for t, s := range in.Settings.Stock {
		free[t] = Stock{Lamps: max(0, s.Lamps), Gear: max(0, s.Gear)}
	}
	urgent := map[string]int{}
	for _, a := range acts {
		if a.urgent && a.needsLamp {
			urgent[a.lampType]++
		}
	}
	for _, l := range lines {
		s := free[l.LampType]
		dark := min(urgent[l.LampType], s.Lamps)
		s.Lamps = dark + max(0, s.Lamps-dark-l.Stock)
		free[l.LampType] = s
	}
	return free
}

// orderList nets the work against the stock and puts each delivery ahead of its
// visit by the lead time. Spares that are short are ordered today.
func orderList(in Input, acts []*action, lines []SparesLine, free map[string]Stock) []Order {
	today := day(in.AsOf)
	type key struct {
		need time.Time
		item string
		lamp string
	}
	at := map[key]*Order{}
	get := func(k key, lead float64) *Order {
		if at[k] == nil {
			o := &Order{NeededBy: k.need, Item: k.item, LampType: k.lamp, OrderBy: k.need.AddDate(0, 0, -int(math.Ceil(lead)))}
			if o.OrderBy.Before(today) {
				o.OrderBy = today
			}
			at[k] = o
		}
		return at[k]
	}
	for _, a := range acts {
		if a.date.IsZero() || (!a.needsLamp && !a.needsGear) {
			continue
		}
		t := a.terms(in.Settings)
		item, lead, price := "lamp", t.leadLamp, t.lamp
		if a.needsGear {
			item, lead, price = "gear", t.leadGear, t.gear
		}
		o := get(key{a.date, item, a.lampType}, lead)
		o.Planned++
		if a.fromStock {
			o.FromStock++
		} else {
			o.Quantity++
			o.Cost += or(price, 0)
			o.Late = o.Late || (a.overdue && lead > 0)
		}
	}
	for _, l := range lines {
		kept := max(0, l.OnHand-free[l.LampType].Lamps)
		short := l.Stock - kept
		if short <= 0 {
			continue
		}
		t := in.Settings.resolve("", l.LampType)
		o := get(key{today.AddDate(0, 0, int(math.Ceil(t.leadLamp))), "lamp", l.LampType}, t.leadLamp)
		o.Spares += short
		o.Quantity += short
		o.Cost += float64(short) * or(t.lamp, 0)
		o.Notes = append(o.Notes, fmt.Sprintf("for a service level of %.0f %% over %.0f days the store must hold %d "+
			"(failures expected: %.0f to %.0f, 80 %% interval); it holds %d for it", 100*l.ServiceLevel, l.Days, l.Stock, l.Failures.Lo, l.Failures.Hi, kept))
	}
	var out []Order
	for _, o := range at {
		if o.Late {
			o.Notes = append(o.Notes, "the lead time reaches past the wanted day: order today")
		}
		out = append(out, *o)
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		switch {
		case !a.OrderBy.Equal(b.OrderBy):
			return a.OrderBy.Before(b.OrderBy)
		case !a.NeededBy.Equal(b.NeededBy):
			return a.NeededBy.Before(b.NeededBy)
		case a.LampType != b.LampType:
			return a.LampType < b.LampType
		}
		return a.Item < b.Item
	})
	return out
}
