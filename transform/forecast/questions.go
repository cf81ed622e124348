package forecast

import (
	"fmt"
	"math"
	"time"
)

// NewLamp is from which step on a lamp that got brighter alone was probably replaced, ln.
const NewLamp = .04

// Question asks in words what a step was.
func (s Step) Question() string {
	who := "this lamp alone"
	switch {
	case s.Sensors > 1:
		who = fmt.Sprintf("%d lamps under %d sensors together", s.Under, s.Sensors)
	case s.Under > 1:
		who = fmt.Sprintf("%d lamps under one sensor together", s.Under)
	}
	if s.Relamp {
		return fmt.Sprintf("readings stepped by %+.1f %% between %s and %s, before the relamp that was logged: was it done then? Those days count for neither lamp",
			100*math.Expm1(s.Size), dateWords(s.Before), dateWords(s.After))
	}
	return fmt.Sprintf("readings stepped by %+.1f %% between %s and %s, %s: %s? Until it is logged the step counts as not known",
		100*math.Expm1(s.Size), dateWords(s.Before), dateWords(s.After), who, s.Likely())
}

// Likely says what such steps mostly are.
func (s Step) Likely() string {
	switch {
	case s.Sensors > 1 && s.Size < 0:
		return "supply, dimming, daylight or an outage"
	case s.Sensors > 1:
		return "a cleaning round, supply, dimming or daylight"
	case s.Under > 1 && s.Size < 0:
		return "the sensor moved, soiled or swapped, or the bay dimmed"
	case s.Under > 1:
		return "a cleaning of the bay, or the sensor wiped or recalibrated"
	case s.Size > NewLamp:
		return "a new lamp"
	case s.Size > 0:
		return "a cleaning"
	}
	return "dimmed, moved, re-aimed, shaded or damaged"
}

// Question asks in words about a gain of the sensor of a group.
func (d Doubt) Question(group string) string {
	if d.UpsideDown {
		return fmt.Sprintf("the as-found gain %.4g of %s on %s contradicts the readings: written upside down, for %.4g? They say %.4g",
			d.AsFound, group, dateWords(d.Day), 1/d.AsFound, d.Seen)
	}
	return fmt.Sprintf("the as-found gain %.4g of %s on %s contradicts the readings, which say %.4g: is it another sensor's, or another day's?",
		d.AsFound, group, dateWords(d.Day), d.Seen)
}

func dateWords(day int) string { return time.Unix(int64(day)*86400, 0).UTC().Format("2006-01-02") }
