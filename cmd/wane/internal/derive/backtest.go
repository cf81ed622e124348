package derive

import (
	"context"
	"fmt"

	"wane/ingest/archive"
	"wane/transform/forecast"
)

// Backtested is how well the site's past forecasts held.
type Backtested struct {
	AsOf        int32
	Interval    float64
	Scored      []forecast.Scored
	Lines       []forecast.BacktestLine
	Calibration forecast.Calibration
	Fleet       Fleet
}

// Backtest rolls the origin back through what was known at the end of the day
// asOf (0: the last day with a reading), every so many days.
func Backtest(ctx context.Context, a *archive.Archive, s Site, asOf int32, every int, interval float64) (*Backtested, error) {
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
	lives, reg, err := Lives(a, s, asOf)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return backtest(FleetOf(lives, reg, s, asOf, interval), asOf, every, interval)
}

func backtest(f Fleet, asOf int32, every int, interval float64) (*Backtested, error) {
	rows, err := forecast.Backtest(&f.Input, forecast.BacktestOptions{Every: every, Interval: interval})
	if err != nil {
		return nil, fmt.Errorf("backtest: %w", err)
	}
	return &Backtested{
		AsOf: asOf, Interval: interval, Scored: rows, Lines: forecast.Summarise(rows),
		Calibration: forecast.Calibrate(rows, interval), Fleet: f,
	}, nil
}
