package derive

import (
	"context"
	"errors"
	"fmt"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/survey/surveys"
)

// Known is every lamp life as it was known at the end of a day, and the register
// as it was then.
type Known struct {
	Lives    []*lamp.Life
	Register *fleet.Register
	t        *tables
	done     func() error // forgets tables that were made for the question alone
}

// Close ends the asking: the lives' series cannot be had after it. It says what of
// them could not be read.
func (k *Known) Close() error { return errors.Join(k.t.close(), k.done()) }

// Know gives every lamp life as of the end of a day, with its weeks: nothing
// dated later is used.
func Know(ctx context.Context, a *archive.Archive, s sitefolder.Site, asOf int32) (*Known, error) {
	return known(ctx, a, s, Making{AsOf: asOf})
}

func known(ctx context.Context, a *archive.Archive, s sitefolder.Site, m Making) (*Known, error) {
	t, done, err := tablesAsOf(ctx, a, s, m)
	if err != nil {
		return nil, err
	}
	k := &Known{Register: t.reg, t: t, done: done}
	if k.Lives, err = t.lives(); err == nil {
		err = t.weeks(k.Lives)
	}
	if err != nil {
		return nil, errors.Join(err, k.Close())
	}
	return k, nil
}

// Asked is one asking of all lamps. It is to be closed.
type Asked struct {
	*due.Result
	known *Known
}

// Close ends the asking; see Known.Close.
func (a *Asked) Close() error { return a.known.Close() }

// Ask forecasts every lamp in service from what was known at the end of the
// day asked for.
func Ask(ctx context.Context, a *archive.Archive, s sitefolder.Site, q due.Question) (*Asked, error) {
	if q.AsOf == 0 {
		last, any := LastDay(a, s)
		if !any {
			return nil, fmt.Errorf("the archive holds no reading; put logger files into inbox/ and run `wane nightly`")
		}
		q.AsOf = last
	}
	k, err := known(ctx, a, s, Making{AsOf: q.AsOf, Bare: q.Bare})
	if err != nil {
		return nil, err
	}
	r, err := ask(ctx, a, s, k.Register, k.Lives, q)
	if err != nil {
		return nil, errors.Join(err, k.Close())
	}
	return &Asked{r, k}, nil
}

// ask forecasts from lives with their weeks. a is the archive with the surveys.
func ask(ctx context.Context, a *archive.Archive, s sitefolder.Site, reg *fleet.Register, lives []*lamp.Life,
	q due.Question) (*due.Result, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	book, err := bookOf(a, s, reg, q.AsOf)
	if err != nil {
		return nil, err
	}
	return due.Ask(lives, reg, s.Config.Rules(), book, q)
}

// bookOf reads the site's canopy surveys as of the end of a day; nil where none
// was taken in.
func bookOf(a *archive.Archive, s sitefolder.Site, reg *fleet.Register, asOf int32) (*surveys.Book, error) {
	all, err := ingest.Surveys(a)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return surveys.Of(all, s.Config.Rig(), reg, s.Beside, calendar.End(asOf, s.Config.Location)), nil
}

// Backtest rolls the origin back through what was known at the end of the day
// asOf (0: the last day with a reading), every so many days.
func Backtest(ctx context.Context, a *archive.Archive, s sitefolder.Site, asOf int32, every int,
	interval float64) (*due.Backtested, error) {
	if asOf == 0 {
		last, any := LastDay(a, s)
		if !any {
			return nil, fmt.Errorf("the archive holds no reading; there is no past to test on")
		}
		asOf = last
	}
	if interval == 0 {
		interval = s.Config.Interval
	}
	k, err := known(ctx, a, s, Making{AsOf: asOf, Bare: true})
	if err != nil {
		return nil, err
	}
	out, err := due.Backtest(due.FleetOf(k.Lives, k.Register, s.Config.Rules(), asOf, interval), asOf, every, interval)
	return out, errors.Join(err, k.Close())
}

// SurveyedAhead sets the lamps in service that canopy surveys alone read side by
// side over the years to come, all or those of the fixtures named.
func SurveyedAhead(ctx context.Context, a *archive.Archive, s sitefolder.Site, asOf int32, fixtures []string,
	interval float64) (*due.Ahead, error) {
	k, err := Know(ctx, a, s, asOf)
	if err != nil {
		return nil, err
	}
	book, err := bookOf(a, s, k.Register, asOf)
	if err != nil {
		return nil, errors.Join(err, k.Close())
	}
	q := due.Question{AsOf: asOf, Interval: interval}
	out, err := due.SurveyedAhead(k.Lives, k.Register, s.Config.Rules(), book, q, fixtures)
	return out, errors.Join(err, k.Close())
}
