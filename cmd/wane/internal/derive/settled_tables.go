package derive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"wane/ingest/archive"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// The tables of what is settled, each in one part with the same key; what has no
// rows has no part.
const (
	TableSettled = "settled"
	TableOpen    = "open"
	TableWeeks   = "weeks"
)

// settled is what is stored of all fixtures up to the end of a month.
type settled struct {
	to       month
	key      string
	fixtures map[string]settledFixture
	open     []archive.Part // rows of table daily up to the end of the month
}

// settledKey is what everything up to the end of a month depends on; "" where it
// cannot be told.
func settledKey(a *archive.Archive, s Site, to month) string {
	parts := dailyParts(a, always, to)
	if len(parts) == 0 || !canBeLean(s) {
		return ""
	}
	end := endOf(lastDayOf(to), s.Config.Location)
	return archive.Key(parts, TableSettled, Version, s.Config.Zone, fmt.Sprintf("%+v %+v %+v", s.Config.Baseline, s.Config.Corrections, s.Config.Rooms), registerHash(s.Register.AsOf(end)))
}

// registerHash is of what lives, their hours and their events rest on.
func registerHash(r *fleet.Register) string {
	h := sha256.New()
	for i := range r.Fixtures {
		f := &r.Fixtures[i]
		text := words(nil, f.ID, f.Room, f.Bay, f.Circuit, string(f.LampType), f.Cohort, string(f.Gear))
		h.Write(moment(number(number(text, f.RatedV), f.HoursAtInstall), f.Installed))
	}
	for i := range r.Logbook {
		e := &r.Logbook[i]
		text := words(nil, string(e.What), string(e.Scope), e.ID, e.Value)
		h.Write(moment(moment(number(text, e.Number), e.At), e.Until))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// readSettled reads what is settled up to the end of a month; nil where it is
// not stored, or not from what there is now.
func readSettled(a *archive.Archive, s Site, to month) (*settled, error) {
	key := settledKey(a, s, to)
	part := partWith(a, TableSettled, key)
	if key == "" || part == nil {
		return nil, nil
	}
	cols, err := a.ReadTable(*part)
	if err != nil {
		return nil, fmt.Errorf("read what is settled: %w", err)
	}
	fixture, n, state := cols[0].Text, cols[1].Int, cols[2].Text
	lives := make([]settledLife, len(state))
	if err := fromJSON(state, "read what is settled", fixture, func(i int) any { return &lives[i] }); err != nil {
		return nil, err
	}
	for i := range lives {
		lives[i].N = int(n[i])
	}
	out := &settled{to: to, key: key, fixtures: make(map[string]settledFixture, len(state))}
	for i := 0; i < len(state); {
		k := i
		for i < len(state) && fixture[i] == fixture[k] {
			i++
		}
		out.fixtures[fixture[k]] = lives[k:i:i]
	}
	if p := partWith(a, TableOpen, key); p != nil {
		out.open = []archive.Part{*p}
	}
	return out, nil
}

// partWith gives the part of a table in one piece that was made from key.
func partWith(a *archive.Archive, table, key string) *archive.Part {
	for _, p := range a.Parts(table) {
		if p.Key == key {
			return &p
		}
	}
	return nil
}

// fixtureSettled is what settling a fixture gives.
type fixtureSettled struct {
	fixture string
	lives   settledFixture
	open    []DailyRow
	weeks   [][]forecast.Block // of lives
	stale   bool
}

// Settle brings what is settled up to the end of the month before the one before
// that of the last day.
func Settle(ctx context.Context, l *archive.Lock, a *archive.Archive, s Site, last int32) (*archive.Archive, error) {
	to := settledMonth(last)
	d, err := archive.Derive(l, TableSettled, TableOpen, TableWeeks)
	if err != nil {
		return nil, err
	}
	key := settledKey(a, s, to)
	if key == "" {
		return d.Commit()
	}
	if d.Keep(TableSettled, "", key) {
		d.Keep(TableOpen, "", key)
		d.Keep(TableWeeks, "", key)
		return d.Commit()
	}
	past, err := readSettled(a, s, to-1)
	if err != nil {
		return nil, err
	}
	made, weeks, err := settleAll(ctx, a, s, past, to)
	if err != nil {
		return nil, err
	}
	if made == nil { // the new month tells of the days before it
		if made, weeks, err = settleAll(ctx, a, s, nil, to); err != nil {
			return nil, err
		}
	}
	return writeSettled(d, key, made, weeks)
}

// settleAll settles every fixture up to the end of a month, from what is settled
// before; nil where that does not stand.
func settleAll(ctx context.Context, a *archive.Archive, s Site, past *settled, to month) ([]fixtureSettled, *weeks, error) {
	last := lastDayOf(to)
	reg := s.Register.AsOf(endOf(last, s.Config.Location))
	before := &weeks{}
	if past != nil {
		var err error
		if before, err = readWeeks(a, past.key); err != nil {
			return nil, nil, err
		}
	}
	var made []fixtureSettled
	all := &weeks{}
	stale := false
	err := eachFixture(a, past.parts(a, to), reg, last, lifeColumns, func(f *fleet.Fixture, rows []DailyRow) fixtureSettled {
		return settleFixture(reg, f, past.of(f), rows, s, last)
	}, func(f fixtureSettled) {
		stale = stale || f.stale
		for k := range f.lives {
			n := f.lives[k].N
			all.add(f.fixture, n, before.of(f.fixture, n))
			all.add(f.fixture, n, f.weeks[k])
		}
		f.weeks = nil
		made = append(made, f)
	})
	if err != nil || stale {
		return nil, nil, err
	}
	return made, all, ctx.Err()
}

// parts gives the parts of table daily with the days that are not settled, up to
// a month; of nothing settled, all.
func (p *settled) parts(a *archive.Archive, to month) []archive.Part {
	if p == nil {
		return dailyParts(a, always, to)
	}
	return append(slices.Clone(p.open), dailyParts(a, p.to, to)...)
}

func (p *settled) of(f *fleet.Fixture) settledFixture {
	if p == nil {
		return nil
	}
	return p.fixtures[f.ID]
}

func settleFixture(reg *fleet.Register, f *fleet.Fixture, past settledFixture, rows []DailyRow, s Site, last int32) fixtureSettled {
	out := fixtureSettled{fixture: f.ID}
	row, _ := past.begun(rows)
	outages := reg.Outages(f)
	from := last + 1
	for _, l := range livesOf(reg, f, past, rows, s, last) {
		out.stale = out.stale || l.stale
		if l.LastDay < l.FirstDay {
			continue
		}
		st, weeks, ok := l.settle(rows, outages, row, s)
		if ok {
			out.lives, out.weeks = append(out.lives, st), append(out.weeks, weeks)
		}
		switch {
		case !ok:
			from = min(from, l.openFrom(nil))
		case !st.Final:
			from = min(from, l.openFrom(&st))
		}
	}
	for i := range rows {
		if rows[i].Day.Day >= from {
			out.open = append(out.open, rows[i])
		}
	}
	return out
}

func writeSettled(d *archive.Derivation, key string, made []fixtureSettled, all *weeks) (*archive.Archive, error) {
	type line struct {
		fixture string
		life    settledLife
	}
	var lines []line
	var open []DailyRow
	for i := range made {
		for _, l := range made[i].lives {
			lines = append(lines, line{made[i].fixture, l})
		}
		open = append(open, made[i].open...)
	}
	if len(lines) == 0 {
		return d.Commit()
	}
	fixture := func(i int) string { return lines[i].fixture }
	texts, err := toJSON(len(lines), "store what is settled", fixture, func(i int) any { return &lines[i].life })
	if err != nil {
		return nil, err
	}
	t := &table{rows: len(lines)}
	t.text("fixture", fixture)
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(lines[i].life.N) })
	t.text("state", func(i int) string { return texts[i] })
	if _, err := d.Write(TableSettled, "", key, t.cols); err != nil {
		return nil, err
	}
	if len(open) > 0 {
		if _, err := d.Write(TableOpen, "", key, lifeColumnsOf(open)); err != nil {
			return nil, err
		}
	}
	if len(all.block) > 0 {
		if _, err := d.Write(TableWeeks, "", key, all.columns()); err != nil {
			return nil, err
		}
	}
	return d.Commit()
}

// lifeColumnsOf lays rows out as the part of schema/daily.sql that hours and
// levels are made from.
func lifeColumnsOf(rows []DailyRow) []archive.Column {
	var out []archive.Column
	for _, c := range dailyColumns(rows) {
		if slices.Contains(lifeColumns, c.Name) {
			out = append(out, c)
		}
	}
	return out
}
