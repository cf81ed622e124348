package supply

import (
	"fmt"
	"math"

	"wane/transform/estimate"
)

// Season is a quarter of the year as meteorology cuts it: whole months.
type Season string

// The seasons, and the whole year.
const (
	Winter Season = "winter"
	Spring Season = "spring"
	Summer Season = "summer"
	Autumn Season = "autumn"
	Year   Season = "year"
)

// SeasonOf gives the season of a month; south of the equator they are turned.
func SeasonOf(month int, south bool) Season {
	order := [4]Season{Winter, Spring, Summer, Autumn}
	i := month % 12 / 3
	if south {
		i = (i + 2) % 4
	}
	return order[i]
}

// AllHours marks a cell over the whole day.
const AllHours = -1

// Cell is the voltage of one season and hour of day, V; shares are 0 to 1.
type Cell struct {
	Season       Season
	Hour         int // 0 to 23, or AllHours
	Readings     int64
	Median       estimate.Estimate
	P5, P95      estimate.Estimate
	Below, Above estimate.Estimate // share of readings outside the range
}

// Profile is a circuit's voltage by season and hour.
type Profile struct {
	Range Limit
	Cells []Cell // the year first, then winter to autumn; in each all hours first, then 0 to 23; cells without readings left out
}

// Options are the choices of a profile.
type Options struct {
	South bool
	Level float64 // 0 means 0.95
}

// Profiled works out a circuit's voltage by season and hour against a range.
func Profiled(h Histogram, within Limit, o Options) (Profile, error) {
	if err := h.Check(); err != nil {
		return Profile{}, err
	}
	level := o.Level
	if level == 0 {
		level = .95
	}
	if !(level > 0 && level < 1) {
		return Profile{}, fmt.Errorf("level %v is not between 0 and 1", level)
	}
	if within.Min > within.Max {
		return Profile{}, fmt.Errorf("range %v to %v V is upside down", within.Min, within.Max)
	}
	p := Profile{Range: within}
	for _, s := range []Season{Year, Winter, Spring, Summer, Autumn} {
		for hour := AllHours; hour < 24; hour++ {
			t := h.tally(func(b Bin) bool {
				return (s == Year || SeasonOf(b.Month, o.South) == s) && (hour == AllHours || b.Hour == hour)
			})
			if t.total == 0 {
				continue
			}
			p.Cells = append(p.Cells, Cell{
				Season: s, Hour: hour, Readings: int64(t.total),
				Median: t.estimate(.5, level), P5: t.estimate(.05, level), P95: t.estimate(.95, level),
				Below: t.share(func(v float64) bool { return v < within.Min }, level),
				Above: t.share(func(v float64) bool { return v > within.Max }, level),
			})
		}
	}
	return p, nil
}

// Whole gives the cell of the whole year and day; ok is false without readings.
func (p Profile) Whole() (c Cell, ok bool) { return p.Cell(Year, AllHours) }

// Cell finds a cell; ok is false where it has no readings.
func (p Profile) Cell(s Season, hour int) (c Cell, ok bool) {
	for _, c := range p.Cells {
		if c.Season == s && c.Hour == hour {
			return c, true
		}
	}
	return Cell{}, false
}

// HourSpread gives the lowest and highest hourly median of the year: a sagging
// line dips with the load, another service is low by night too.
func (p Profile) HourSpread() (lowest, highest Cell, ok bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range p.Cells {
		if c.Season != Year || c.Hour == AllHours {
			continue
		}
		if c.Median.Centre < lo {
			lo, lowest = c.Median.Centre, c
		}
		if c.Median.Centre > hi {
			hi, highest = c.Median.Centre, c
		}
		ok = true
	}
	return lowest, highest, ok
}
