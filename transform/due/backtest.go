package due

import (
	"fmt"

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

// Backtest rolls the origin back through a fleet as it was known at the end of
// the day asOf, every so many days.
func Backtest(f Fleet, asOf int32, every int, interval float64) (*Backtested, error) {
	rows, err := forecast.Backtest(&f.Input, forecast.BacktestOptions{Every: every, Interval: interval})
	if err != nil {
		return nil, fmt.Errorf("backtest: %w", err)
	}
	return &Backtested{
		AsOf: asOf, Interval: interval, Scored: rows, Lines: forecast.Summarise(rows),
		Calibration: forecast.Calibrate(rows, interval), Fleet: f,
	}, nil
}

// mostLamps is up to how many lamp lives each asking weighs the site's own
// record: a backtest fits the fleet once an origin.
const mostLamps = 1500

// recordEvery is the days between the origins of that weighing.
const recordEvery = 91

// ownRecord weighs the intervals by how often the site's own held. They are
// widened where they held too seldom. Where they held more often than claimed
// they are left: what came is read off the same sensors by the same model, so
// that a record too good is no proof.
func ownRecord(f Fleet, q Question) (*Backtested, forecast.Calibration, error) {
	if len(f.Input.Lamps) > mostLamps {
		return nil, forecast.Calibration{Widen: 1}, nil
	}
	b, err := Backtest(f, q.AsOf, recordEvery, q.Interval)
	if err != nil {
		return nil, forecast.Calibration{}, err
	}
	return b, b.Calibration.NoNarrower(), nil
}
