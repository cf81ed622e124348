package main

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/ingest/register"
	"wane/transform/fleet"
)

// mostConflicts is how many contradictions are printed one by one.
const mostConflicts = 50

// contradictions are the moments at which a series has several values and nobody
// has decided which holds.
type contradictions struct {
	moments int
	shown   []archive.Conflict // the first of them
	rounded stretch            // those that are one value in several roundings
}

// stretch is what moments of some series have in common.
type stretch struct {
	moments         int
	sensor, channel string // fleet.Every where they are several
	first, last     time.Time
}

func (s *stretch) add(of reading.Series, at time.Time) {
	if s.moments++; s.moments == 1 {
		*s = stretch{1, of.Sensor, of.Channel, at, at}
	}
	if s.sensor != of.Sensor {
		s.sensor = fleet.Every
	}
	if s.channel != of.Channel {
		s.channel = fleet.Every
	}
	if at.Before(s.first) {
		s.first = at
	}
	if at.After(s.last) {
		s.last = at
	}
}

// undecided gathers the contradictions that nobody has settled.
func undecided(a *archive.Archive, r *fleet.Register) (open contradictions, err error) {
	var values []float64
	err = a.EachConflict(func(k archive.Conflict) error {
		values = values[:0]
		for _, v := range k.Values {
			values = append(values, v.Float())
		}
		if _, _, settled := r.Decide(k.Series.Sensor, k.Series.Channel, k.At, values); settled {
			return nil
		}
		if open.moments++; len(open.shown) < mostConflicts {
			k.Values = slices.Clone(k.Values)
			open.shown = append(open.shown, k)
		}
		if _, ok := fleet.Finest(values); ok {
			open.rounded.add(k.Series, k.At)
		}
		return nil
	})
	return open, err
}

func (c *contradictions) table() *show.Table {
	t := &show.Table{Columns: show.Columns("sensor", "channel", "time", "values")}
	for _, k := range c.shown {
		var values []string
		for _, v := range k.Values {
			values = append(values, plainNumber(v))
		}
		t.Add(k.Series.Sensor, k.Series.Channel, k.At.Format(time.RFC3339Nano), strings.Join(values, "  "))
	}
	if more := c.moments - len(c.shown); more > 0 {
		t.Add("…", "", fmt.Sprintf("and %d more", more), "")
	}
	return t
}

// need says what a person must do, with the lines that would settle the first
// contradiction, and all that are a matter of rounding.
func (c *contradictions) need() string {
	k := c.shown[0]
	text := fmt.Sprintf("%d moments at which a series has several values; say in %s which holds, for example: %s",
		c.moments, register.DecisionsFile,
		decisionLine(k.Series.Sensor, k.Series.Channel, k.At, k.At, plainNumber(k.Values[0])))
	if r := c.rounded; r.moments > 0 {
		text += fmt.Sprintf("; %d of them are one value with more and with fewer decimals, which one line settles: %s",
			r.moments,
			decisionLine(r.sensor, r.channel, r.first, r.last, string(fleet.KeepFinest)))
	}
	return text
}

func plainNumber(v reading.Value) string { return strconv.FormatFloat(v.Float(), 'f', -1, 64) }

// decisionLine is the line that would settle contradictions.
func decisionLine(sensor, channel string, from, to time.Time, keep string) string {
	until := ""
	if to.After(from) {
		until = to.Format(time.RFC3339Nano)
	}
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write([]string{sensor, channel, from.Format(time.RFC3339Nano), until, keep, ""}) // memory does not fail
	w.Flush()
	return strings.TrimSpace(b.String())
}
