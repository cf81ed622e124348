package main

import (
	"fmt"
	"strings"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/night"
	"wane/ingest/archive"
	"wane/schedules"
)

// health is what a watchdog asks of a site.
type health struct {
	now    time.Time
	last   string // the last day with a reading
	behind int32  // days between it and yesterday
	files  int
	counts archive.Counts
	parts  map[string]int

	night   night.Record
	nights  bool // one is written down
	check   night.Check
	checked bool
	faults  []string // what makes the site unhealthy, with what to do
}

// mostBehind is how many days the readings may be old.
const mostBehind = 2

func healthOf(o *opened, now time.Time) *health {
	h := &health{now: now, last: "never"}
	if err := o.view(func(a *archive.Archive) error { return h.look(a, o) }); err != nil {
		h.faults = append(h.faults, "the archive cannot be read: "+err.Error())
	} else if h.behind > mostBehind {
		h.faults = append(h.faults, fmt.Sprintf("no reading for %d days: look whether files still come", h.behind))
	}
	h.lookAtNight(o)
	return h
}

func (h *health) look(a *archive.Archive, o *opened) error {
	h.behind, h.parts, h.counts = 1<<20, map[string]int{}, archive.Counts{}
	if last, any := derive.LastDay(a, o.Site); any {
		h.last = day(last)
		h.behind = max(0, derive.DayOf(h.now, o.Config.Location)-1-last)
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
	fmt.Fprintf(&b, "last day read %s, %d days ago\n", h.last, h.behind)
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

func (h *health) metrics() string {
	var b strings.Builder
	one := func(name, help string, v int64) {
		fmt.Fprintf(&b, "# HELP %s %s\n# TYPE %s gauge\n%s %d\n", name, help, name, name, v)
	}
	at := func(name, help string, t time.Time) {
		if !t.IsZero() {
			one(name, help, t.Unix())
		}
	}
	healthy := int64(0)
	if len(h.faults) == 0 {
		healthy = 1
	}
	one("wane_healthy", "1 where /health is 200.", healthy)
	if h.parts != nil {
		one("wane_days_behind", "Days between the last day read and yesterday.", int64(h.behind))
		one("wane_files_taken_in", "Files taken in.", int64(h.files))
		one("wane_rows", "Rows of all files.", h.counts.Rows)
		one("wane_rows_stored", "Rows stored.", h.counts.Stored)
		one("wane_rows_duplicate", "Rows that were stored before.", h.counts.Duplicate)
		one("wane_rows_quarantined", "Rows in quarantine.", h.counts.Quarantined)
		fmt.Fprintf(&b, "# HELP wane_parts Parts of a table.\n# TYPE wane_parts gauge\n")
		for _, t := range sortedKeys(h.parts) {
			fmt.Fprintf(&b, "wane_parts{table=%q} %d\n", t, h.parts[t])
		}
	}
	if n := h.night; h.nights {
		at("wane_night_start_seconds", "When the last night began, since 1970.", n.Start)
		at("wane_night_end_seconds", "When the last night ended, since 1970.", n.End)
		if !n.End.IsZero() {
			one("wane_night_exit", "Exit status of the last night: 0 done, 3 something needs a person.", int64(n.Exit))
		}
		one("wane_night_rows", "Rows of the files of the last night.", n.Rows)
		one("wane_night_rows_quarantined", "Rows of the last night that went to quarantine.", n.Quarantined)
		one("wane_night_questions", "What waited for a person after the last night.", int64(n.Questions))
	}
	if h.checked {
		at("wane_check_seconds", "When the archive was last checked as a whole, since 1970.", h.check.At)
		one("wane_check_findings", "Damaged places that the last check found.", int64(h.check.Findings))
	}
	return b.String()
}
