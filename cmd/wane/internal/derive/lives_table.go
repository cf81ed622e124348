package derive

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/lamp"
	"wane/transform/parallel"
)

// lifeColumnsOf lays lives out as schema/lives.sql of package queries says.
func lifeColumnsOf(lives []*lamp.Life, s sitefolder.Site) []archive.Column {
	t, rules := &table{rows: len(lives)}, s.Config.Rules()
	day := func(name string, of func(*lamp.Life) int32) {
		t.whole(name, archive.Date, func(i int) int64 { return int64(of(lives[i])) })
	}
	maybeDay := func(name string, of func(*lamp.Life) int32) {
		t.maybeWhole(name, archive.Date, func(i int) (int64, bool) { d := of(lives[i]); return int64(d), d != 0 })
	}
	text := func(name string, of func(*lamp.Life) string) {
		t.text(name, func(i int) string { return of(lives[i]) })
	}
	number := func(name string, of func(*lamp.Life) float64) {
		t.number(name, func(i int) float64 { return of(lives[i]) })
	}
	maybe := func(name string, of func(*lamp.Life) float64) {
		t.maybe(name, func(i int) float64 { return of(lives[i]) })
	}
	t.whole("life", archive.Int64, func(i int) int64 { return lives[i].Key })
	text("fixture", func(l *lamp.Life) string { return l.Fixture.ID })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(lives[i].N) })
	text("lamp_type", func(l *lamp.Life) string { return string(l.LampType) })
	text("cohort", func(l *lamp.Life) string { return l.Cohort })
	text("gear", func(l *lamp.Life) string { return string(l.Gear) })
	text("room", func(l *lamp.Life) string { return l.Place.Room })
	text("bay", func(l *lamp.Life) string { return l.Place.Bay })
	text("circuit", func(l *lamp.Life) string { return l.Place.Circuit })
	day("hung_day", func(l *lamp.Life) int32 { return l.HungDay })
	day("first_day", func(l *lamp.Life) int32 { return l.FirstDay })
	day("last_day", func(l *lamp.Life) int32 { return l.LastDay })
	day("read_from", (*lamp.Life).ReadFrom)
	text("ended", func(l *lamp.Life) string { return string(l.End) })
	maybeDay("record_day", func(l *lamp.Life) int32 { return l.RecordFrom })
	maybeDay("read_day", func(l *lamp.Life) int32 { return l.LastRead })
	text("sensor", func(l *lamp.Life) string { return l.SensorLast })
	text("sensors", func(l *lamp.Life) string { return strings.Join(l.Light, "\n") })
	number("start_hours", func(l *lamp.Life) float64 { return l.StartHours })
	number("run_hours", (*lamp.Life).HoursNow)
	number("run_hours_lo", func(l *lamp.Life) float64 { return bound(l, l.Now.Lo) })
	number("run_hours_hi", func(l *lamp.Life) float64 { return bound(l, l.Now.Hi) })
	number("season_h", func(l *lamp.Life) float64 { return l.SeasonHours(rules) })
	maybeDay("base_first", func(l *lamp.Life) int32 { return l.BaseDays.From })
	maybeDay("base_last", func(l *lamp.Life) int32 { return l.BaseDays.To })
	t.whole("base_days", archive.Int64, func(i int) int64 { return int64(lives[i].BaseDays.N) })
	maybe("base_hours", func(l *lamp.Life) float64 { return l.BaseDays.Hours })
	t.yes("late_baseline", func(i int) bool { return lives[i].BaseDays.Hours > s.Config.Baseline.LatestHours })
	t.yes("short_baseline", func(i int) bool { return lives[i].BaseDays.N < s.Config.Baseline.Days })
	maybe("reference_v", func(l *lamp.Life) float64 { return l.Base.ReferenceV })
	number("reference_c", func(l *lamp.Life) float64 { return l.Corrected.ReferenceC })
	number("supply_coef", func(l *lamp.Life) float64 { return l.Corrected.Supply[l.Gear] })
	number("ambient_coef", func(l *lamp.Life) float64 { return l.Corrected.Ambient[l.LampType] })
	maybe("threshold", func(l *lamp.Life) float64 {
		return orNone(s.Config.Thresholds.Of(l.Place.Room,
			l.LampType).Level)
	})
	maybe("threshold_ppfd", func(l *lamp.Life) float64 {
		return orNone(s.Config.Thresholds.Of(l.Place.Room,
			l.LampType).PPFD)
	})
	maybe("energy_h", func(l *lamp.Life) float64 { return l.EnergyH.Centre })
	t.whole("energy_days", archive.Int64, func(i int) int64 { return int64(lives[i].EnergyH.N) })
	t.yes("sunlit", func(i int) bool { return lives[i].Sunlit })
	text("said", func(l *lamp.Life) string { return strings.Join(l.Warnings, "\n") })
	return t.cols
}

// bound is an end of the run-hours; those at the start where there is no day.
func bound(l *lamp.Life, h float64) float64 {
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
	site sitefolder.Site
	reg  *fleet.Register // as of the day
	asOf int32

	shelf *shelf // of the lives' series; nil until they are joined
}

// close ends the reading of the lives' series.
func (t *tables) close() error {
	if t.shelf == nil {
		return nil
	}
	return t.shelf.close()
}

// frame reads a table that is in one piece; an empty one where it is not there.
func (t *tables) frame(name string) (frame, int, error) {
	parts := t.Parts(name)
	if len(parts) == 0 {
		return frame{}, 0, nil
	}
	cols, err := t.ReadTable(parts[0])
	if err != nil {
		return nil, 0, fmt.Errorf("read table %s, which another version of wane may have made (`wane rebuild` makes "+
			"it anew): %w", name, err)
	}
	return frameOf(cols), cols[0].Len(), nil
}

// lives reads the lamp lives, in order of fixture and life, with what the other
// tables say of each.
func (t *tables) lives() ([]*lamp.Life, error) {
	f, n, err := t.frame(TableLives)
	if err != nil {
		return nil, err
	}
	lives := make([]*lamp.Life, n)
	var of []fleet.Life
	for i := range lives {
		id, k := f.text("fixture", i), int(f.whole("lamp_life", i))
		x := t.reg.Fixture(id)
		if x == nil {
			return nil, fmt.Errorf("table lives speaks of fixture %q, which the register has not: run `wane nightly`", id)
		}
		if k == 1 {
			of = t.reg.Lives(x)
		}
		if k > len(of) {
			return nil, fmt.Errorf("table lives speaks of lamp life %d of %s, which the register has not: run `wane nightly`",
				k, id)
		}
		l := &lamp.Life{Life: of[k-1], Fixture: x, Key: f.whole("life", i), Latest: k == len(of), Chain: nil,
			Place:   fleet.Place{Room: f.text("room", i), Bay: f.text("bay", i), Circuit: f.text("circuit", i)},
			HungDay: int32(f.whole("hung_day", i)), FirstDay: int32(f.whole("first_day",
				i)), LastDay: int32(f.whole("last_day", i)),
			RecordFrom: int32(f.whole("record_day", i)), LastRead: int32(f.whole("read_day", i)),
			SensorLast: f.text("sensor", i), Light: lines(f.text("sensors", i)), Warnings: lines(f.text("said", i)),
			Sunlit: f.yes("sunlit", i),
			BaseDays: lamp.BaseDays{From: int32(f.whole("base_first", i)), To: int32(f.whole("base_last", i)),
				N: int(f.whole("base_days", i)), Hours: f.number("base_hours", i)},
		}
		l.Base.ReferenceV = f.number("reference_v", i)
		if l.LastDay >= l.FirstDay {
			l.Now = hours.Total{Day: l.LastDay, Hours: f.number("run_hours", i), Lo: f.number("run_hours_lo", i),
				Hi: f.number("run_hours_hi", i), Disagree: math.NaN()}
		}
		l.EnergyH = lamp.EnergyOf(f.number("energy_h", i), int(f.whole("energy_days", i)))
		lives[i] = l
	}
	return lives, t.join(lives)
}

// join adds what the small tables say of the lives.
func (t *tables) join(lives []*lamp.Life) error {
	c, _, err := t.frame(TableCoefficients)
	if err != nil {
		return err
	}
	if c["what"] != nil {
		used := coefficientsIn(c, t.site.Config.Corrections)
		used.Give(lives)
	}
	at := index(lives)
	b, n, err := t.frame(TableBurning)
	if err != nil {
		return err
	}
	for i := range n {
		if l := at[lampLife{b.text("fixture", i), int(b.whole("lamp_life", i))}]; l != nil {
			l.Burned = append(l.Burned, lamp.MonthBurn{Month: calendar.MonthOf(calendar.Date(int32(b.whole("month", i)))),
				Hours: b.number("burned_h", i), Days: int(b.whole("days", i))})
		}
	}
	if err := t.baselines(lives, at); err != nil {
		return err
	}
	parallel.For(len(lives), func(i int) { lives[i].Chain = t.reg.Chain(lives[i].Fixture) })
	t.shelf = newShelf(t)
	for _, l := range lives {
		l.Source = t.shelf
	}
	return nil
}

func index(lives []*lamp.Life) map[lampLife]*lamp.Life {
	at := make(map[lampLife]*lamp.Life, len(lives))
	for _, l := range lives {
		at[lampLife{l.Fixture.ID, l.N}] = l
	}
	return at
}

// baselines gives each life its baseline.
func (t *tables) baselines(lives []*lamp.Life, at map[lampLife]*lamp.Life) error {
	f, n, err := t.frame(TableBaselines)
	if err != nil {
		return err
	}
	rules := t.site.Config.Rules()
	for _, l := range lives {
		l.Base.Baseline = t.site.Config.Baseline.None(l.SeasonHours(rules))
	}
	for i := range n {
		l := at[lampLife{f.text("fixture", i), int(f.whole("lamp_life", i))}]
		if l == nil {
			continue
		}
		l.Base.Baseline = t.site.Config.Baseline.Of(f.number("baseline", i), f.number("deviation", i),
			l.SeasonHours(rules), l.BaseDays.N, l.BaseDays.Hours)
	}
	return nil
}

// weeks gives each life its weekly bins.
func (t *tables) weeks(lives []*lamp.Life) error {
	at := index(lives)
	for some := range slices.Chunk(partsWithin(t.Archive, TableWeeks, math.MinInt32, math.MaxInt32), partsAtOnce) {
		read, errs := make([]frame, len(some)), make([]error, len(some))
		parallel.For(len(some), func(i int) {
			cols, err := t.ReadTable(some[i], "fixture", "lamp_life", "day", "n", "run_hours", "ln_output", "dim",
				"supply_ln", "ambient_c")
			read[i], errs[i] = frameOf(cols), err
		})
		if err := errors.Join(errs...); err != nil {
			return fmt.Errorf("read table weeks: %w", err)
		}
		for _, f := range read {
			if err := f.weeks(at); err != nil {
				return err
			}
		}
	}
	return nil
}

// partsAtOnce is how many parts of a table are read side by side.
const partsAtOnce = 8

// weeks adds the weekly bins of a part to their lives.
func (f frame) weeks(at map[lampLife]*lamp.Life) error {
	fixture, life, day, n, run, ln, dim, supply, ambient := f["fixture"], f["lamp_life"], f["day"], f["n"],
		f["run_hours"], f["ln_output"], f["dim"], f["supply_ln"], f["ambient_c"]
	var l *lamp.Life
	for i := range day.Int {
		if l == nil || l.Fixture.ID != fixture.Text[i] || l.N != int(life.Int[i]) {
			if l = at[lampLife{fixture.Text[i], int(life.Int[i])}]; l == nil {
				return fmt.Errorf("table weeks speaks of lamp life %d of %s, which table lives has not: run `wane rebuild`",
					life.Int[i], fixture.Text[i])
			}
		}
		l.Weeks = append(l.Weeks, forecast.Bin{Day: int(day.Int[i]), N: int(n.Int[i]), Hours: run.Float[i],
			LnOut: ln.Float[i], Dim: dim.Float[i], Supply: supply.Float[i], Ambient: ambient.Float[i],
			HasSupply: there(supply, i), HasAmbient: there(ambient, i)})
	}
	return nil
}

func there(c *archive.Column, i int) bool { return len(c.Valid) == 0 || c.Valid[i] }

func burnColumns(lives []*lamp.Life) []archive.Column {
	type row struct {
		l *lamp.Life
		b lamp.MonthBurn
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
