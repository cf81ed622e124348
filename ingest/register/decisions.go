package register

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/ingest/problem"
	"wane/transform/fleet"
)

// DecisionsFile holds what people decided about readings that contradict each
// other: one series, one moment, two values. It may be missing.
const DecisionsFile = "register/decisions.csv"

// DecisionColumns are its columns. from and to are dates or RFC 3339 times, both
// included; an empty to means the one moment. sensor or channel may be * for
// every one. keep is the value to keep as it was read, or lowest, highest,
// finest or none.
var DecisionColumns = []string{"sensor", "channel", "from", "to", "keep", "note"}

// loadDecisions reads register/decisions.csv below the site folder into r.
func loadDecisions(r *fleet.Register, dir string, loc *time.Location) (problem.List, error) {
	data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(DecisionsFile)))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read register: %w", err)
	}
	return ParseDecisions(r, data, loc), nil
}

// ParseDecisions reads and checks the table and adds its rows to the register,
// whose series they must speak of. They are complete only where the list is
// empty.
func ParseDecisions(r *fleet.Register, data []byte, loc *time.Location) problem.List {
	t := read(DecisionsFile, data, DecisionColumns)
	series := []string{fleet.Every + "/" + fleet.Every}
	for _, s := range r.Sensors {
		series = append(series, s.Sensor+"/"+s.Channel, s.Sensor+"/"+fleet.Every, fleet.Every+"/"+s.Channel)
	}
	for _, w := range t.rows {
		d := fleet.Decision{Sensor: w.need("sensor"), Channel: w.need("channel"), Line: w.line}
		if name := d.Sensor + "/" + d.Channel; d.Sensor != "" && d.Channel != "" && !slices.Contains(series, name) {
			do := "register/sensors.csv lists the series"
			if near := problem.Nearest(name, series); near != "" {
				do = fmt.Sprintf("did you mean %q?", near)
			}
			w.bad("channel", fmt.Sprintf("no series is called %q", name), do)
		}
		if w.need("from") != "" {
			d.From = w.moment("from", loc)
		}
		switch d.To = w.moment("to", loc); {
		case d.To.IsZero():
			d.To = d.From
		case len(w.get("to")) == len("2025-03-31"): // a date: the whole day
			d.To = d.To.AddDate(0, 0, 1).Add(-time.Microsecond)
		}
		if d.To.Before(d.From) {
			w.bad("to", "ends before it begins", "write from and to in order")
		}
		d.Keep, d.Value = w.keep()
		r.Decisions = append(r.Decisions, d)
	}
	overlapping(t, r.Decisions)
	slices.SortStableFunc(r.Decisions, func(a, b fleet.Decision) int { return a.From.Compare(b.From) })
	return t.found
}

func (w row) keep() (fleet.Keep, float64) {
	text := w.need("keep")
	switch k := fleet.Keep(strings.ToLower(text)); k {
	case fleet.KeepLowest, fleet.KeepHighest, fleet.KeepFinest, fleet.KeepNone:
		return k, 0
	}
	v, err := strconv.ParseFloat(text, 64)
	if text != "" && (err != nil || math.IsNaN(v) || math.IsInf(v, 0)) {
		w.bad("keep", fmt.Sprintf("%q is not known", text),
			"write the value to keep as it was read, or lowest, highest, finest or none")
	}
	return fleet.KeepValue, v
}

// overlapping finds two rows that speak of the same moment of a series.
func overlapping(t *table, all []fleet.Decision) {
	sorted := slices.Clone(all)
	slices.SortStableFunc(sorted, func(a, b fleet.Decision) int {
		if c := strings.Compare(a.Sensor+"\x00"+a.Channel, b.Sensor+"\x00"+b.Channel); c != 0 {
			return c
		}
		return a.From.Compare(b.From)
	})
	for i := 1; i < len(sorted); i++ {
		a, b := &sorted[i-1], &sorted[i]
		if a.Sensor == b.Sensor && a.Channel == b.Channel && !b.From.After(a.To) {
			if a.Line > b.Line {
				a, b = b, a
			}
			t.add(b.Line, 0, fmt.Sprintf("%s/%s has a decision for the same time on line %d", b.Sensor, b.Channel, a.Line),
				"keep one of them")
		}
	}
}
