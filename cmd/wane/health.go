package main

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/night"
	"wane/ingest/archive"
	"wane/ingest/collect"
	"wane/schedules"
	"wane/transform/calendar"
)

// health is what a watchdog asks of a site.
type health struct {
	now    time.Time
	read   bool   // a reading has come
	last   string // the last day with one
	behind int32  // days between it and yesterday
	files  int
	counts archive.Counts
	parts  map[string]int

	night   night.Record
	nights  bool // one is written down
	check   night.Check
	checked bool
	sources []collect.Status
	faults  []string // what makes the site unhealthy, with what to do
}

// mostBehind is how many days the readings may be old.
const mostBehind = 2

func healthOf(o *opened, now time.Time) *health {
	h := &health{now: now}
	if err := o.view(func(a *archive.Archive) error { return h.look(a, o) }); err != nil {
		h.faults = append(h.faults, "the archive cannot be read: "+err.Error())
	} else if !h.read {
		h.faults = append(h.faults, "no reading has come yet: put logger files into inbox/, or see that a source collects")
	} else if h.behind > mostBehind {
		h.faults = append(h.faults, fmt.Sprintf("no reading for %d days: look whether files still come", h.behind))
	}
	h.lookAtNight(o)
	var err error
	if h.sources, err = sourceStates(o.folder); err != nil {
		h.faults = append(h.faults, err.Error())
	}
	for _, s := range h.sources {
		if g := s.Open(); g != nil && now.Sub(g.From) >= silentSource {
			h.faults = append(h.faults, fmt.Sprintf("source %s: nothing comes since %s: %s", s.Source,
				g.From.UTC().Format(time.RFC3339), cmp.Or(s.Error, g.Why)))
		}
	}
	return h
}

func (h *health) look(a *archive.Archive, o *opened) error {
	h.parts, h.counts = map[string]int{}, archive.Counts{}
	if last, any := derive.LastDay(a, o.Site); any {
		h.read, h.last = true, day(last)
		h.behind = max(0, calendar.DayOf(h.now, o.Config.Location)-1-last)
	}
	files, err := a.Files()
	if err != nil {
		return err
	}
	h.files = len(files)
	for _, f := range files {
		h.counts.Add(f.Counts)
	}
	for _, p := range a.Manifest().Parts {
		h.parts[p.Table]++
	}
	return nil
}

func (h *health) lookAtNight(o *opened) {
	fault := func(why string) {
		if why != "" {
			h.faults = append(h.faults, why)
		}
	}
	var err error
	if h.night, h.nights, err = night.Last(o.folder); err != nil {
		fault(err.Error())
	}
	if h.check, h.checked, err = night.LastCheck(o.folder); err != nil {
		fault(err.Error())
	}
	if !h.nights {
		fault("no night is written down; run `wane nightly` or `wane run`")
		return
	}
	line, err := schedules.ParseLine(o.Config.Schedules.Nightly)
	if err != nil {
		fault(err.Error())
		return
	}
	fault(h.night.Fault(h.now, line.Next(o.Config.Location, h.night.Start)))
	if h.checked && h.check.Findings > 0 {
		fault(fmt.Sprintf("the last check found %d damaged places; run `wane check`", h.check.Findings))
	}
}

// words is the page of /health.
func (h *health) words() string {
	var b strings.Builder
	if h.read {
		fmt.Fprintf(&b, "last day read %s, %d days ago\n", h.last, h.behind)
	}
	if n := h.night; h.nights {
		fmt.Fprintf(&b, "last night began %s, ", n.Start.Format(time.RFC3339))
		switch {
		case !n.End.IsZero():
			fmt.Fprintf(&b, "ended %s with exit %d: %d files, %d rows, %d quarantined; %d questions wait\n",
				n.End.Format(time.RFC3339), n.Exit, n.Files, n.Rows, n.Quarantined, n.Questions)
		case n.Running():
			b.WriteString("is running\n")
		default:
			b.WriteString("did not end\n")
		}
	}
	if h.checked {
		fmt.Fprintf(&b, "last check %s, %d damaged places\n", h.check.At.Format(time.RFC3339), h.check.Findings)
	}
	for _, f := range h.faults {
		fmt.Fprintf(&b, "not healthy: %s\n", f)
	}
	return b.String()
}
