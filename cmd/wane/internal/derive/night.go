package derive

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/level"
)

// Behind is the tables behind daily, which Make makes together, all as of one day.
func Behind() []string { return slices.Clone(made) }

var made = []string{TableHours, TableLives, TableGains, TablePeriods, TablePlacements, TableChains, TableCoefficients,
	TableBurning,
	TableBaselines, TableLevels, TableWeeks, TableDue}

// Making is how the tables are made.
type Making struct {
	AsOf     int32 // 0: the last day with a reading
	Bare     bool  // without levels, where nothing that is asked rests on them
	Fit      bool  // the fit is asked too, see due.Result
	Progress func(step string)
}

// Made is what a night left: every lamp's answer, and the archive with the tables.
type Made struct {
	*archive.Archive
	Result *due.Result // nil where the archive holds no reading
	tables *tables
}

// Close ends the use of the lives' series; it says what of them could not be read.
func (m *Made) Close() error {
	if m.tables == nil {
		return nil
	}
	return m.tables.close()
}

// Make brings every derived table behind daily up to it: hours, levels, weeks and
// due, and the facts of the register that they are joined with.
func Make(ctx context.Context, l *archive.Lock, a *archive.Archive, s sitefolder.Site, m Making) (*Made, error) {
	if m.AsOf == 0 {
		last, any := LastDay(a, s)
		if !any {
			return &Made{Archive: a}, nil
		}
		m.AsOf = last
	}
	if m.Progress == nil {
		m.Progress = func(string) {}
	}
	d, err := archive.Derive(l, made...)
	if err != nil {
		return nil, err
	}
	n := &night{ctx: ctx, site: s, daily: a, d: d, Making: m}
	if err := errors.Join(n.make(), n.end()); err != nil {
		return nil, err
	}
	out, err := d.Commit()
	if err != nil {
		return nil, err
	}
	n.tables.Archive = out
	return &Made{Archive: out, Result: n.result, tables: n.tables}, nil
}

// night is the making of the tables behind daily, in the order of the data.
type night struct {
	ctx   context.Context
	site  sitefolder.Site
	daily *archive.Archive // its table daily is what all is made from
	d     *archive.Derivation
	Making

	lives  []*lamp.Life
	rows   fleet.Stretches
	gains  []level.Gain
	tables *tables
	db     *queries.DB // nil until a statement is run
	result *due.Result
}

func (n *night) make() error {
	for _, step := range []struct {
		say string
		do  func() error
	}{
		{"hours", n.hours}, {"baselines", n.baselines}, {"levels", n.levels}, {"weeks", n.weeks}, {"forecasting",
			n.due},
	} {
		n.Progress(step.say)
		if err := n.ctx.Err(); err != nil {
			return err
		}
		if err := step.do(); err != nil {
			return fmt.Errorf("%s: %w", step.say, err)
		}
	}
	return nil
}

// end ends the engine, and with it what it holds.
func (n *night) end() error {
	if n.db == nil {
		return nil
	}
	db := n.db
	n.db = nil
	return db.Close()
}

// madeKey is what the tables behind daily are made from.
func madeKey(a *archive.Archive, s sitefolder.Site, asOf int32) string {
	return archive.Key(append(partsWithin(a, TableDaily, math.MinInt32, asOf), a.Parts(archive.Files)...), Version,
		siteKey(s), fmt.Sprint(asOf))
}

// hours adds up every lamp life from the days, and writes what the register and
// the record say of it.
func (n *night) hours() error {
	s, asOf := n.site, n.AsOf
	daily := partsWithin(n.daily, TableDaily, math.MinInt32, asOf)
	table := newHourTable(n.d, daily, s, asOf)
	rec, err := readRecord(n.daily, s, asOf, table.add)
	if err != nil {
		return err
	}
	if err := table.write(); err != nil {
		return err
	}
	loc, key := s.Config.Location, madeKey(n.daily, s, asOf)
	n.lives, n.gains, n.rows = rec.Lives, level.Gains(rec.Register, rec.Begun, loc), rec.Register.StretchesOfAll(loc)
	c := lamp.CoefficientsOf(rec.Lives, rec.Swings, s.Config.Corrections, s.Config.Forecast)
	c.Give(n.lives)
	for _, t := range []struct {
		name string
		cols []archive.Column
	}{
		{TableLives, lifeColumnsOf(n.lives, s)}, {TableGains, gainColumns(n.gains)}, {TablePeriods,
			periodColumns(n.rows.Periods)},
		{TablePlacements, placeColumns(n.rows.Places)}, {TableChains, chainColumns(n.rows.Chains)},
		{TableCoefficients, coefficientColumns(coefficientRows(&c))}, {TableBurning, burnColumns(n.lives)},
	} {
		if !n.d.Keep(t.name, "", key) {
			if _, err := n.d.Write(t.name, "", key, t.cols); err != nil {
				return err
			}
		}
	}
	n.tables = &tables{site: s, reg: rec.Register, asOf: asOf}
	return n.refresh()
}

// refresh lets the tables made so far be read.
func (n *night) refresh() (err error) {
	n.tables.Archive, err = n.d.Made()
	return err
}

// baselines makes what 100 % is of each life, from the days that it rests on.
func (n *night) baselines() error {
	first, last := int32(math.MaxInt32), int32(math.MinInt32)
	days := map[int32]bool{}
	h := newDigest(TableBaselines, n.site)
	for _, l := range n.lives {
		if l.BaseDays.N == 0 {
			continue
		}
		first, last = min(first, l.BaseDays.From), max(last, l.BaseDays.To)
		for d := l.BaseDays.From; d <= l.BaseDays.To; d++ {
			days[d] = true
		}
		h.life(l, l.BaseDays.From, l.BaseDays.To)
	}
	if len(days) == 0 {
		return nil
	}
	for _, g := range n.gains {
		h.gain(g, first, last)
	}
	over := n.over(first, last, func(s span) bool {
		for _, d := range s.days() {
			if days[d] {
				return true
			}
		}
		return false
	})
	if err := n.write(TableBaselines, "", h.key(over), over, queries.MakeBaselines); err != nil {
		return err
	}
	return n.refresh()
}

// levels makes the level of each lamp life and day, a part for each of table hours.
func (n *night) levels() error {
	if n.Bare && !needsLevels(n.site) {
		return nil
	}
	base, _, err := n.tables.frame(TableBaselines)
	if err != nil {
		return err
	}
	baselines := map[lampLife][2]float64{}
	if base["fixture"] != nil {
		for i := range base["fixture"].Text {
			baselines[lampLife{base.text("fixture", i),
				int(base.whole("lamp_life", i))}] = [2]float64{base.number("baseline", i), base.number("baseline_raw", i)}
		}
	}
	some := batch{most: levelsHeld}
	for _, p := range partsWithin(n.tables.Archive, TableHours, math.MinInt32, math.MaxInt32) {
		s, _ := spanOf(p)
		over := n.over(s.first, s.last, nil)
		s.key = n.levelsKey(s, baselines).key(over)
		if !n.d.Keep(TableLevels, s.partition, s.key) {
			if err := n.batched(&some, s, s, n.makeLevels); err != nil {
				return err
			}
		}
	}
	if err := n.makeLevels(some); err != nil {
		return err
	}
	return n.refresh()
}

// levelsKey hashes what is said of the days of a part.
func (n *night) levelsKey(s span, baselines map[lampLife][2]float64) *digest {
	h := newDigest(TableLevels, n.site)
	for _, l := range n.lives {
		if l.Touches(s.first, s.last) {
			h.life(l, s.first, s.last)
			b, ok := baselines[lampLife{l.Fixture.ID, l.N}]
			if ok && l.BaseDays.From <= s.last {
				h.number(b[0], b[1]).whole(l.BaseDays.N).number(l.BaseDays.Hours)
			}
		}
	}
	for _, g := range n.gains {
		h.gain(g, s.first, s.last)
	}
	for _, c := range n.rows.Chains {
		if c.Touches(s.first, s.last) {
			h.text(c.Fixture, c.Chain).stretch(c.Stretch, s.first, s.last)
		}
	}
	return h
}

// makeLevels makes the levels of parts that follow each other.
func (n *night) makeLevels(some batch) error {
	if len(some.parts) == 0 {
		return nil
	}
	first, last := some.parts[0].first, some.parts[len(some.parts)-1].last
	if err := n.read(n.over(first, last, nil)); err != nil {
		return err
	}
	if some.rows > some.most {
		return n.eachOf(some.parts, TableLevels, queries.MakeLevels)
	}
	if err := queries.HoldLevels(n.ctx, n.db, calendar.Date(first), calendar.Date(last)); err != nil {
		return err
	}
	return n.eachOf(some.parts, TableLevels, queries.MakeHeldLevels)
}

// weeks makes the weekly bins, those with their middle in a month in one part, whose
// span is of the days that they are made from.
func (n *night) weeks() error {
	months := map[calendar.Month]bool{}
	for _, p := range partsWithin(n.daily, TableDaily, math.MinInt32, n.AsOf) {
		if s, ok := spanOf(p); ok {
			months[calendar.MonthOf(calendar.Date(s.first))] = true
			months[calendar.MonthOf(calendar.Date(s.last+7))] = true
			months[calendar.MonthOf(calendar.Date(s.first-7))] = true
		}
	}
	some := batch{most: daysOfWeeksHeld}
	for _, m := range sortedMonths(months) {
		s := span{partition: spansOf(m, false)[0].partition,
			first: forecast.WeekOf(m.First() - 3 + 6), last: forecast.WeekOf(m.Last()-3) + 6}
		over := n.over(s.first-1, s.last+1, nil)
		if s.first > n.AsOf || len(over[TableDaily]) == 0 {
			continue
		}
		s.key = n.weeksKey(s.first, s.last).key(over)
		if !n.d.Keep(TableWeeks, s.partition, s.key) {
			if err := n.batched(&some, s, span{first: m.First(), last: m.Last()}, n.makeWeeks); err != nil {
				return err
			}
		}
	}
	if err := n.makeWeeks(some); err != nil {
		return err
	}
	return n.refresh()
}

// weeksKey hashes what is said of the days that bins are made from.
func (n *night) weeksKey(first, last int32) *digest {
	h := newDigest(TableWeeks, n.site)
	for _, l := range n.lives {
		if l.Touches(first-1, last+1) {
			h.life(l, first-1, last+1)
		}
	}
	for i, p := range n.rows.Periods {
		if p.Touches(first, last) {
			h.text(p.Fixture).whole(i).stretch(p.Stretch, first, last)
		}
	}
	for i, p := range n.rows.Places {
		if p.Touches(first, last) {
			h.text(p.Fixture).whole(i).stretch(p.Stretch, first, last)
		}
	}
	return h
}

// makeWeeks makes the bins of months that follow each other.
func (n *night) makeWeeks(some batch) error {
	if len(some.parts) == 0 {
		return nil
	}
	first, last := some.parts[0].first, some.parts[len(some.parts)-1].last
	if err := n.read(n.over(first-1, last+1, nil)); err != nil {
		return err
	}
	err := queries.HoldWeeks(n.ctx, n.db, calendar.Date(first), calendar.Date(last), forecast.Seasoning)
	if err != nil {
		return err
	}
	return n.eachOf(some.parts, TableWeeks, queries.MakeWeeks)
}

// due forecasts every lamp and writes the answers.
func (n *night) due() error {
	if err := n.end(); err != nil { // the fit wants the memory
		return err
	}
	if err := n.tables.join(n.lives); err != nil {
		return err
	}
	if err := n.tables.weeks(n.lives); err != nil {
		return err
	}
	var err error
	if n.result, err = ask(n.ctx, n.daily, n.site, n.tables.reg, n.lives, due.Question{AsOf: n.AsOf,
		Fit: n.Fit}); err != nil {
		return err
	}
	key := madeKey(n.daily, n.site, n.AsOf)
	if !n.d.Keep(TableDue, "", key) {
		_, err = n.d.Write(TableDue, "", key, dueColumns(n.result.Lines()))
	}
	return err
}

// over gives the parts of daily and hours that hold days from first to last and
// pass, and the facts.
func (n *night) over(first, last int32, pass func(span) bool) map[string][]archive.Part {
	out := map[string][]archive.Part{}
	for _, table := range []string{TableDaily, TableHours} {
		from := n.tables.Archive
		if table == TableDaily {
			from = n.daily
		}
		for _, p := range partsWithin(from, table, first, min(last, n.AsOf)) {
			if s, _ := spanOf(p); pass == nil || pass(s) {
				out[table] = append(out[table], p)
			}
		}
	}
	return out
}

// limits bounds the engine: a month of ten thousand fixtures fits.
var limits = queries.Limits{MemoryMB: 600, Temp: os.TempDir()}

// write lets a statement make a part over some parts of daily and hours and all of
// the facts, unless it is there.
func (n *night) write(table, partition, key string, over map[string][]archive.Part,
	statement func(context.Context, *queries.DB, string) error) error {
	if n.d.Keep(table, partition, key) {
		return nil
	}
	if err := n.read(over); err != nil {
		return err
	}
	_, err := n.d.Make(table, partition, key, func(to string) error { return statement(n.ctx, n.db, to) })
	return err
}

// read lets statements see some parts of daily and hours and all of the facts.
func (n *night) read(over map[string][]archive.Part) (err error) {
	files := queries.Tables{}
	for name, parts := range over {
		from := n.tables.Archive
		if name == TableDaily {
			from = n.daily
		}
		for _, p := range parts {
			files[name] = append(files[name], from.Path(p))
		}
	}
	for _, name := range []string{TableLives, TableGains, TablePeriods, TablePlacements, TableChains, TableBaselines} {
		for _, p := range n.tables.Parts(name) {
			files[name] = append(files[name], n.tables.Path(p))
		}
	}
	if n.db == nil {
		n.db, err = queries.Open(n.ctx, files, limits)
		return err
	}
	return n.db.Over(n.ctx, files)
}

// referencesIn says whether the logbook has a reading of a reference meter.
func referencesIn(reg *fleet.Register) bool {
	return slices.ContainsFunc(reg.Logbook, func(e fleet.Entry) bool { return e.What == fleet.ReferenceIs })
}

// needsLevels says whether the forecast rests on levels: references and surveys
// are tied to those about their day.
func needsLevels(s sitefolder.Site) bool {
	if s.Config.Survey.Forecast && s.Config.Survey.Reference != "" {
		return true
	}
	return referencesIn(s.Register)
}

func sortedMonths(of map[calendar.Month]bool) []calendar.Month {
	return slices.Sorted(maps.Keys(of))
}
