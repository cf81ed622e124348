package derive

import (
	"fmt"
	"math"
	"strings"

	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
)

// lifeColumnsOf lays lives out as schema/lives.sql of package queries says.
func lifeColumnsOf(lives []*Life, s Site) []archive.Column {
	t := &table{rows: len(lives)}
	day := func(name string, of func(*Life) int32) {
		t.whole(name, archive.Date, func(i int) int64 { return int64(of(lives[i])) })
	}
	maybeDay := func(name string, of func(*Life) int32) {
		t.maybeWhole(name, archive.Date, func(i int) (int64, bool) { d := of(lives[i]); return int64(d), d != 0 })
	}
	text := func(name string, of func(*Life) string) { t.text(name, func(i int) string { return of(lives[i]) }) }
	number := func(name string, of func(*Life) float64) { t.number(name, func(i int) float64 { return of(lives[i]) }) }
	maybe := func(name string, of func(*Life) float64) { t.maybe(name, func(i int) float64 { return of(lives[i]) }) }
	t.whole("life", archive.Int64, func(i int) int64 { return lives[i].Key })
	text("fixture", func(l *Life) string { return l.Fixture.ID })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(lives[i].N) })
	text("lamp_type", func(l *Life) string { return string(l.LampType) })
	text("cohort", func(l *Life) string { return l.Cohort })
	text("gear", func(l *Life) string { return string(l.Gear) })
	text("room", func(l *Life) string { return l.Place.Room })
	text("bay", func(l *Life) string { return l.Place.Bay })
	text("circuit", func(l *Life) string { return l.Place.Circuit })
	day("hung_day", func(l *Life) int32 { return l.HungDay })
	day("first_day", func(l *Life) int32 { return l.FirstDay })
	day("last_day", func(l *Life) int32 { return l.LastDay })
	day("read_from", (*Life).readFrom)
	text("ended", func(l *Life) string { return string(l.End) })
	maybeDay("record_day", func(l *Life) int32 { return l.RecordFrom })
	maybeDay("read_day", func(l *Life) int32 { return l.LastRead })
	text("sensor", func(l *Life) string { return l.SensorLast })
	text("sensors", func(l *Life) string { return strings.Join(l.Light, "\n") })
	number("start_hours", func(l *Life) float64 { return l.StartHours })
	number("run_hours", (*Life).HoursNow)
	number("run_hours_lo", func(l *Life) float64 { return l.bound(l.total.Lo) })
	number("run_hours_hi", func(l *Life) float64 { return l.bound(l.total.Hi) })
	number("season_h", func(l *Life) float64 { return l.seasonHours(s) })
	maybeDay("base_first", func(l *Life) int32 { return l.first.from })
	maybeDay("base_last", func(l *Life) int32 { return l.first.to })
	t.whole("base_days", archive.Int64, func(i int) int64 { return int64(lives[i].first.n) })
	maybe("base_hours", func(l *Life) float64 { return l.first.hours })
	t.yes("late_baseline", func(i int) bool { return lives[i].first.hours > s.Config.Baseline.LatestHours })
	t.yes("short_baseline", func(i int) bool { return lives[i].first.n < s.Config.Baseline.Days })
	maybe("reference_v", func(l *Life) float64 { return l.Base.ReferenceV })
	number("reference_c", func(l *Life) float64 { return l.Corrected.ReferenceC })
	number("supply_coef", func(l *Life) float64 { return l.Corrected.Supply[l.Gear] })
	number("ambient_coef", func(l *Life) float64 { return l.Corrected.Ambient[l.LampType] })
	maybe("threshold", func(l *Life) float64 { return orNone(s.Config.Threshold(l.Place.Room, l.LampType).Level) })
	maybe("threshold_ppfd", func(l *Life) float64 { return orNone(s.Config.Threshold(l.Place.Room, l.LampType).PPFD) })
	maybe("energy_h", func(l *Life) float64 { return l.EnergyH.Centre })
	t.whole("energy_days", archive.Int64, func(i int) int64 { return int64(lives[i].EnergyH.N) })
	text("said", func(l *Life) string { return strings.Join(l.Warnings, "\n") })
	return t.cols
}

// bound is an end of the run-hours; those at the start where there is no day.
func (l *Life) bound(h float64) float64 {
	if _, ok := l.Total(); ok {
		return h
	}
	return l.StartHours
}

func orNone(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}

// tables is a view of the derived tables, all made as of one day.
type tables struct {
	*archive.Archive
	site Site
	reg  *fleet.Register // as of the day
	asOf int32
}

// frame reads a table that is in one piece; an empty one where it is not there.
func (t *tables) frame(name string) (frame, int, error) {
	parts := t.Parts(name)
	if len(parts) == 0 {
		return frame{}, 0, nil
	}
	cols, err := t.ReadTable(parts[0])
	if err != nil {
		return nil, 0, fmt.Errorf("read table %s, which another version of wane may have made (`wane rebuild` makes it anew): %w", name, err)
	}
	return frameOf(cols), cols[0].Len(), nil
}

// lives reads the lamp lives, in order of fixture and life, with what the other
// tables say of each.
func (t *tables) lives() ([]*Life, error) {
	f, n, err := t.frame(TableLives)
	if err != nil {
		return nil, err
	}
	lives := make([]*Life, n)
	var of []fleet.Life
	for i := range lives {
		id, k := f.text("fixture", i), int(f.whole("lamp_life", i))
		x := t.reg.Fixture(id)
		if x == nil {
			return nil, fmt.Errorf("table lives speaks of fixture %q, which the register has not: run `wane nightly`",
				id)
		}
		if k == 1 {
			of = t.reg.Lives(x)
		}
		if k > len(of) {
			return nil, fmt.Errorf("table lives speaks of lamp life %d of %s, which the register has not: run `wane nightly`", k, id)
		}
		l := &Life{Life: of[k-1], Fixture: x, Key: f.whole("life", i), Latest: k == len(of), Chain: nil,
			Place:   fleet.Place{Room: f.text("room", i), Bay: f.text("bay", i), Circuit: f.text("circuit", i)},
			HungDay: int32(f.whole("hung_day", i)), FirstDay: int32(f.whole("first_day",
				i)), LastDay: int32(f.whole("last_day", i)),
			RecordFrom: int32(f.whole("record_day", i)), LastRead: int32(f.whole("read_day", i)),
			SensorLast: f.text("sensor", i), Light: lines(f.text("sensors", i)), Warnings: lines(f.text("said", i)),
			first: baseDays{int32(f.whole("base_first", i)), int32(f.whole("base_last", i)),
				int(f.whole("base_days", i)), f.number("base_hours", i)},
		}
		l.Base.ReferenceV = f.number("reference_v", i)
		if l.LastDay >= l.FirstDay {
			l.total = hours.Total{Day: l.LastDay, Hours: f.number("run_hours", i), Lo: f.number("run_hours_lo", i),
				Hi: f.number("run_hours_hi", i), Disagree: math.NaN()}
		}
		l.EnergyH = energyOf(f.number("energy_h", i), int(f.whole("energy_days", i)))
		lives[i] = l
	}
	return lives, t.join(lives)
}

// join adds what the small tables say of the lives.
func (t *tables) join(lives []*Life) error {
	c, _, err := t.frame(TableCoefficients)
	if err != nil {
		return err
	}
	if c["what"] != nil {
		used := coefficientsIn(c, t.site.Config.Corrections)
		used.give(lives)
	}
	at := index(lives)
	b, n, err := t.frame(TableBurning)
	if err != nil {
		return err
	}
	for i := range n {
		if l := at[lampLife{b.text("fixture", i), int(b.whole("lamp_life", i))}]; l != nil {
			l.Burned = append(l.Burned, monthBurn{calendar.MonthOf(calendar.Date(int32(b.whole("month", i)))), b.number("burned_h", i),
				int(b.whole("days", i))})
		}
	}
	if err := t.baselines(lives, at); err != nil {
		return err
	}
	each(len(lives), func(i int) { lives[i].Chain = t.reg.Chain(lives[i].Fixture) })
	shelf := newShelf(t)
	for _, l := range lives {
		l.shelf = shelf
	}
	return nil
}

func index(lives []*Life) map[lampLife]*Life {
	at := make(map[lampLife]*Life, len(lives))
	for _, l := range lives {
		at[lampLife{l.Fixture.ID, l.N}] = l
	}
	return at
}

// baselines gives each life its baseline.
func (t *tables) baselines(lives []*Life, at map[lampLife]*Life) error {
	f, n, err := t.frame(TableBaselines)
	if err != nil {
		return err
	}
	for _, l := range lives {
		l.Base.Baseline = t.site.Config.Baseline.None(l.seasonHours(t.site))
	}
	for i := range n {
		l := at[lampLife{f.text("fixture", i), int(f.whole("lamp_life", i))}]
		if l == nil {
			continue
		}
		l.Base.Baseline = t.site.Config.Baseline.Of(f.number("baseline", i), f.number("deviation", i),
			l.seasonHours(t.site), l.first.n, l.first.hours)
	}
	return nil
}

// weeks gives each life its weekly bins.
func (t *tables) weeks(lives []*Life) error {
	at := index(lives)
	for _, p := range partsWithin(t.Archive, TableWeeks, math.MinInt32, math.MaxInt32) {
		cols, err := t.ReadTable(p, "fixture", "lamp_life", "day", "n", "run_hours", "ln_output", "dim", "supply_ln",
			"ambient_c")
		if err != nil {
			return fmt.Errorf("read table weeks: %w", err)
		}
		f := frameOf(cols)
		fixture, life, day, n, run, ln, dim, supply, ambient := f["fixture"], f["lamp_life"], f["day"], f["n"], f["run_hours"], f["ln_output"], f["dim"], f["supply_ln"], f["ambient_c"]
		var l *Life
		for i := range day.Int {
			if l == nil || l.Fixture.ID != fixture.Text[i] || l.N != int(life.Int[i]) {
				if l = at[lampLife{fixture.Text[i], int(life.Int[i])}]; l == nil {
					return fmt.Errorf("table weeks speaks of lamp life %d of %s, which table lives has not: run `wane rebuild`", life.Int[i], fixture.Text[i])
				}
			}
			b := forecast.Block{Day: int(day.Int[i]), N: int(n.Int[i]), Hours: run.Float[i], LnOut: ln.Float[i],
				Dim:    dim.Float[i],
				Supply: supply.Float[i], Ambient: ambient.Float[i], HasSupply: there(supply,
					i), HasAmbient: there(ambient, i)}
			l.Weeks = append(l.Weeks, b)
		}
	}
	return nil
}

func there(c *archive.Column, i int) bool { return len(c.Valid) == 0 || c.Valid[i] }

func burnColumns(lives []*Life) []archive.Column {
	type row struct {
		l *Life
		b monthBurn
	}
	var rows []row
	for _, l := range lives {
		for _, b := range l.Burned {
			rows = append(rows, row{l, b})
		}
	}
	t := &table{rows: len(rows)}
	t.text("fixture", func(i int) string { return rows[i].l.Fixture.ID })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(rows[i].l.N) })
	t.whole("month", archive.Date, func(i int) int64 { return int64(rows[i].b.Month.First()) })
	t.number("burned_h", func(i int) float64 { return rows[i].b.Hours })
	t.whole("days", archive.Int64, func(i int) int64 { return int64(rows[i].b.Days) })
	return t.cols
}

// energyOf is what an energy meter says of a lamp's burning, h a day.
func energyOf(h float64, days int) estimate.Estimate {
	const method = "energy over rated power"
	const relative = 0.05
	if days == 0 || math.IsNaN(h) {
		return estimate.None(method, "no energy meter with the rated power of all that hangs on it")
	}
	return estimate.Estimate{Centre: h, Lo: h * (1 - relative), Hi: h * (1 + relative), Level: 0.8, N: days,
		Method:   method,
		Warnings: []string{"rated power taken for true power: dimming lowers this witness"}}
}
