package yearly

import (
	"sort"

	"wane/transform/estimate"
	"wane/transform/fleet"
)

// Scope is what the year's numbers are about.
type Scope struct {
	AtStart  int `json:"fixtures_at_start"` // hanging when the year began
	AtEnd    int `json:"fixtures_at_end"`
	Added    int `json:"added"`
	Removed  int `json:"removed"`
	Moved    int `json:"moved"` // fixtures, however often
	Moves    int `json:"moves"`
	Relamped int `json:"relamped"`
	Failed   int `json:"failed"`
	Regeared int `json:"regeared"`

	Rooms     []RoomCount `json:"rooms"`
	Exposures []Exposure  `json:"exposures"`
	Starts    int64       `json:"starts"` // switching cycles
	Energy    Used        `json:"energy"`
	NotUsed   []Count     `json:"lives_not_used"` // lamp lives of the record that survival could not use
	Late      int         `json:"entered_late"`   // lamps that burned already when the watch began
	SeenShare Number      `json:"hours_seen_share"`
}

// RoomCount is the fixtures of a room at both ends of the year.
type RoomCount struct {
	Room    string `json:"room"`
	AtStart int    `json:"at_start"`
	AtEnd   int    `json:"at_end"`
}

// Exposure is burning hours of one kind of unit within the year. A gear and a
// fixture burn while their lamp does.
type Exposure struct {
	Unit     string `json:"unit"` // lamp, gear or fixture
	Kind     string `json:"kind"`
	Units    int    `json:"units"`
	Hours    Number `json:"hours"`
	Failures int    `json:"failures"`
}

// Used is the year's energy by what told it.
type Used struct {
	MeteredKWh Number `json:"metered_kwh"`
	ByPowerKWh Number `json:"by_power_kwh"`
	RatedKWh   Number `json:"by_rated_watts_kwh"`
	Unknown    int    `json:"fixtures_without_energy"`
	Total      Number `json:"total_kwh"`
}

func (in *Input) scope(ws []watched, left []Count) Scope {
	s := Scope{NotUsed: left}
	rooms := map[string]*RoomCount{}
	at := func(r string) *RoomCount {
		if rooms[r] == nil {
			rooms[r] = &RoomCount{Room: r}
		}
		return rooms[r]
	}
	for i := range in.Fixtures {
		f := &in.Fixtures[i]
		if f.HungFirst {
			s.AtStart++
			at(f.RoomFirst).AtStart++
		}
		if f.HungLast {
			s.AtEnd++
			at(f.RoomLast).AtEnd++
		}
		s.Added += one(f.Added)
		s.Removed += one(f.Removed)
		s.Moved += one(f.Moves > 0)
		s.Moves += f.Moves
		s.Starts += f.Starts
	}
	for _, r := range rooms {
		s.Rooms = append(s.Rooms, *r)
	}
	sort.Slice(s.Rooms, func(i, j int) bool { return s.Rooms[i].Room < s.Rooms[j].Room })
	year := Span{in.First, min(in.Last, in.AsOf)}
	for i := range in.Lives {
		l := &in.Lives[i]
		if year.holds(l.Left) {
			s.Failed += one(l.Ended == fleet.Fail)
		}
		if l.N > 1 && year.holds(l.Start) {
			s.Relamped++
		}
	}
	for _, g := range in.Gear {
		s.Regeared += one(year.holds(g.Day))
	}
	seen, all := 0, 0
	for i := range ws {
		s.Late += one(ws[i].Entry > 0)
		for _, y := range ws[i].Years {
			if y.Year == in.Year {
				seen, all = seen+y.Seen, all+y.Days
			}
		}
	}
	s.SeenShare = Number(ratio(float64(seen), float64(all)))
	s.Exposures = in.exposures(year)
	s.Energy = in.energy()
	return s
}

func (in *Input) exposures(year Span) []Exposure {
	byKey := map[[2]string]*Exposure{}
	add := func(unit, kind string, units, failures int, h float64) {
		if kind == "" {
			kind = "not known"
		}
		e := byKey[[2]string{unit, kind}]
		if e == nil {
			e = &Exposure{Unit: unit, Kind: kind}
			byKey[[2]string{unit, kind}] = e
		}
		e.Units += units
		e.Failures += failures
		e.Hours += Number(h)
	}
	fixtureHours := map[string]float64{}
	for i := range in.Lives {
		l := &in.Lives[i]
		h := l.hoursIn(in.Year)
		fixtureHours[l.Fixture] += h
		fell := year.holds(l.End+1) && l.Ended == fleet.Fail
		if h > 0 || fell {
			add("lamp", string(l.LampType), 1, one(fell), h)
		}
	}
	regears := map[string]int{}
	for _, g := range in.Gear {
		regears[g.Fixture] += one(year.holds(g.Day))
	}
	for i := range in.Fixtures {
		f := &in.Fixtures[i]
		if h := fixtureHours[f.ID]; h > 0 || regears[f.ID] > 0 {
			add("gear", string(f.Gear), 1+regears[f.ID], regears[f.ID], h)
			add("fixture", f.Model, 1, 0, h)
		}
	}
	out := make([]Exposure, 0, len(byKey))
	for _, e := range byKey {
		out = append(out, *e)
	}
	order := map[string]int{"lamp": 0, "gear": 1, "fixture": 2}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Unit != out[j].Unit {
			return order[out[i].Unit] < order[out[j].Unit]
		}
		return out[i].Kind < out[j].Kind
	})
	return out
}

// energy adds the year's energy up, each meter once.
func (in *Input) energy() Used {
	hours := map[string]float64{}
	for i := range in.Lives {
		hours[in.Lives[i].Fixture] += in.Lives[i].hoursIn(in.Year)
	}
	var u Used
	read := map[string]bool{}
	for i := range in.Fixtures {
		f := &in.Fixtures[i]
		switch {
		case f.Energy.Meter != "" && estimate.Finite(f.Energy.KWh):
			if read[f.Energy.Meter] {
				continue
			}
			read[f.Energy.Meter] = true
			if f.Energy.Basis == "counter" {
				u.MeteredKWh += Number(f.Energy.KWh)
			} else {
				u.ByPowerKWh += Number(f.Energy.KWh)
			}
		case f.RatedW > 0:
			u.RatedKWh += Number(f.RatedW * hours[f.ID] / 1000)
		case hours[f.ID] > 0:
			u.Unknown++
		}
	}
	u.Total = u.MeteredKWh + u.ByPowerKWh + u.RatedKWh
	return u
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

func ratio(a, b float64) float64 {
	if b == 0 {
		return nan
	}
	return a / b
}
