package supply

import (
	"fmt"
	"math"
	"time"
)

// Sample is one reading of a series.
type Sample struct {
	At time.Time
	V  float64
}

// Kind is what an event is.
type Kind string

// The kinds of event, after IEEE 1159: below 0.9 of nominal, above 1.1, below 0.1.
const (
	Sag          Kind = "sag"
	Swell        Kind = "swell"
	Interruption Kind = "interruption"
)

// Thresholds are shares of nominal.
type Thresholds struct {
	Sag, Swell, Interruption float64
	// Gap is the longest time between two samples over which an event goes on;
	// 0 means three times the usual interval, given as Every.
	Gap   time.Duration
	Every time.Duration // the logger's usual interval
}

// IEEE1159 gives the usual thresholds: 0.9, 1.1 and 0.1 of nominal (seen quoted,
// the standard itself not seen). every is the logger's interval.
func IEEE1159(every time.Duration) Thresholds {
	return Thresholds{Sag: .9, Swell: 1.1, Interruption: .1, Every: every}
}

// Event is one excursion.
type Event struct {
	Kind        Kind
	Start, End  time.Time // first and last sample outside
	Samples     int
	ExtremeV    float64 // lowest of a sag, highest of a swell
	Extreme     float64 // the same as a share of nominal
	AtLeast     time.Duration
	AtMost      time.Duration // -1 where a gap in the log or its end leaves it open
	Class       string        // by duration: "up to 3 s", "3 s to 1 min", "over 1 min (under- or overvoltage)", "over 1 min (sustained)" for an interruption, or "not known"
	CutByLogGap bool          // the log begins, ends or has a gap at one of its ends
}

// Detector finds events in a series fed in order of time.
type Detector struct {
	nominal float64
	th      Thresholds
	gap     time.Duration
	prev    Sample
	some    bool
	open    *Event
	before  time.Time // the last good sample before the open event; zero = none
	events  []Event
}

// NewDetector makes a detector for a nominal voltage.
func NewDetector(nominal float64, th Thresholds) (*Detector, error) {
	if !(nominal > 0) || math.IsInf(nominal, 0) {
		return nil, fmt.Errorf("nominal %v V: give the circuit's nominal voltage, above 0", nominal)
	}
	if !(th.Interruption >= 0 && th.Interruption < th.Sag && th.Sag < 1 && th.Swell > 1) {
		return nil, fmt.Errorf("thresholds %v, %v and %v of nominal: an interruption is below a sag, a sag below 1, a "+
			"swell above 1", th.Interruption, th.Sag, th.Swell)
	}
	gap := th.Gap
	if gap == 0 {
		gap = 3 * th.Every
	}
	if gap <= 0 {
		return nil, fmt.Errorf("the logger's interval is not given: without it a gap in the log cannot be told from an event")
	}
	return &Detector{nominal: nominal, th: th, gap: gap}, nil
}

// Add takes the next sample; one out of order or that is no voltage is an error
// and is not counted.
func (d *Detector) Add(s Sample) error {
	if math.IsNaN(s.V) || math.IsInf(s.V, 0) || s.V < 0 {
		return fmt.Errorf("%s: %v V is no voltage", s.At.UTC().Format(time.RFC3339), s.V)
	}
	if d.some && !s.At.After(d.prev.At) {
		return fmt.Errorf("%s: sample is not later than the one before; sort the series", s.At.UTC().Format(time.RFC3339))
	}
	gap := d.some && s.At.Sub(d.prev.At) > d.gap
	kind := d.kind(s.V)
	if d.open != nil && (gap || d.open.Kind != kind) {
		end := s.At
		if gap {
			end = time.Time{}
		}
		d.close(end)
	}
	if kind != "" {
		if d.open == nil {
			d.before = time.Time{}
			if d.some && !gap {
				d.before = d.prev.At
			}
			d.open = &Event{Kind: kind, Start: s.At, ExtremeV: s.V}
		}
		e := d.open
		e.End = s.At
		e.Samples++
		if kind == Swell {
			e.ExtremeV = math.Max(e.ExtremeV, s.V)
		} else {
			e.ExtremeV = math.Min(e.ExtremeV, s.V)
		}
	}
	d.prev, d.some = s, true
	return nil
}

func (d *Detector) kind(v float64) Kind {
	switch r := v / d.nominal; {
	case r < d.th.Interruption:
		return Interruption
	case r < d.th.Sag:
		return Sag
	case r > d.th.Swell:
		return Swell
	}
	return ""
}

// close ends the open event; next is the sample that ended it, zero where the
// log says nothing of the end.
func (d *Detector) close(next time.Time) {
	e := *d.open
	d.open = nil
	e.Extreme = e.ExtremeV / d.nominal
	e.AtLeast = e.End.Sub(e.Start)
	e.CutByLogGap = d.before.IsZero() || next.IsZero()
	e.AtMost = -1
	if !e.CutByLogGap {
		e.AtMost = next.Sub(d.before)
	}
	e.Class = class(e.AtLeast, e.AtMost)
	if e.Kind == Interruption && e.AtLeast > time.Minute {
		e.Class = "over 1 min (sustained)"
	}
	d.events = append(d.events, e)
}

// class names the duration after IEEE 1159 where the log's interval lets it.
func class(least, most time.Duration) string {
	switch {
	case most >= 0 && most <= 3*time.Second:
		return "up to 3 s"
	case least > time.Minute:
		return "over 1 min (under- or overvoltage)"
	case least > 3*time.Second && most >= 0 && most <= time.Minute:
		return "3 s to 1 min"
	}
	return "not known"
}

// Events gives what was found, an event still open at the end included.
func (d *Detector) Events() []Event {
	out := append([]Event(nil), d.events...)
	if d.open != nil {
		c := &Detector{nominal: d.nominal, open: &Event{}, before: d.before}
		*c.open = *d.open
		c.close(time.Time{})
		out = append(out, c.events...)
	}
	return out
}

// Blind says in words what a logger of this interval cannot see.
func (th Thresholds) Blind() string {
	return fmt.Sprintf("a sag or swell shorter than %g min, the logger's interval, is seen only by chance: these "+
		"counts are a lower bound, and IEEE 1159's shorter classes need a power-quality recorder", th.Every.Minutes())
}
