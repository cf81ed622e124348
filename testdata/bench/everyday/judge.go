package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"sort"
	"strconv"
	"strings"
	"text/tabwriter"
)

// answer is one row of `wane due` beside the truth.
type answer struct {
	fixture, day, status, reason string
	truth                        truth
	hours, due, lo, hi           float64 // NaN where empty
}

func (a answer) String() string {
	return fmt.Sprintf("%s %s %s h %.0f due %.0f (%.0f to %.0f) truth %.0f | %s", a.day, a.fixture, a.status, a.hours, a.due, a.lo, a.hi, a.truth.due, a.reason)
}

// judge writes a site, runs the program on it and asks it.
func judge(wane, dir string, w *world) ([]answer, error) {
	if err := w.write(dir); err != nil {
		return nil, err
	}
	if _, err := call(wane, "nightly", "--no-report", "--site", dir); err != nil {
		return nil, err
	}
	os.Remove(dir + "/inbox/readings.csv")
	var out []answer
	for _, day := range w.ask {
		text, err := call(wane, "due", "--format", "csv", "--as-of", date(day), "--site", dir)
		if err != nil {
			return nil, err
		}
		rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
		if err != nil || len(rows) == 0 {
			return nil, fmt.Errorf("due: %w", err)
		}
		at := map[string]int{}
		for k, name := range rows[0] {
			at[name] = k
		}
		truths := w.truths(day)
		for _, r := range rows[1:] {
			f := r[at["fixture"]]
			t, ok := truths[f]
			if !ok {
				continue
			}
			number := func(c string) float64 {
				if r[at[c]] == "" {
					return math.NaN()
				}
				x, err := strconv.ParseFloat(r[at[c]], 64)
				if err != nil {
					return math.NaN()
				}
				return x
			}
			out = append(out, answer{fixture: f, day: date(day), status: r[at["status"]], reason: r[at["reason"]], truth: t,
				hours: number("run_hours"), due: number("due_hours"), lo: number("due_hours_lo"), hi: number("due_hours_hi")})
		}
	}
	return out, nil
}

func call(wane string, args ...string) ([]byte, error) {
	cmd := exec.Command(wane, args...)
	cmd.Env = append(os.Environ(), "GOMAXPROCS=2")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == 3 {
		err = nil
	}
	if err != nil {
		return nil, fmt.Errorf("wane %s: %w: %s", strings.Join(args, " "), err, errs.String())
	}
	return out, nil
}

// score sums up one situation.
type score struct {
	asked, answered, ranges int
	held, heldRange         int
	under, falseUnder       int
	beyond, falseBeyond     int
	errs, signed            []float64
	status                  map[string]int
}

func (s *score) add(a answer) {
	if s.status == nil {
		s.status = map[string]int{}
	}
	if a.status == "dark" {
		return
	}
	s.asked++
	s.status[a.status]++
	truth := math.Min(a.truth.due, 120000)
	inside := a.lo <= truth && (math.IsNaN(a.hi) || truth <= a.hi)
	switch a.status {
	case "under":
		s.under++
		if a.truth.due > a.hours*1.02 {
			s.falseUnder++
		}
		fallthrough
	case "forecast":
		s.answered++
		if inside {
			s.held++
		}
		s.errs = append(s.errs, math.Abs(a.due-truth)/truth)
		s.signed = append(s.signed, (a.due-truth)/truth)
	case "inseparable":
		if !math.IsNaN(a.lo) {
			s.ranges++
			if inside {
				s.heldRange++
			}
		}
	case "beyond":
		s.beyond++
		if a.lo > truth {
			s.falseBeyond++
		}
	}
}

func (s *score) merge(o score) {
	s.asked, s.answered, s.ranges = s.asked+o.asked, s.answered+o.answered, s.ranges+o.ranges
	s.held, s.heldRange = s.held+o.held, s.heldRange+o.heldRange
	s.under, s.falseUnder = s.under+o.under, s.falseUnder+o.falseUnder
	s.beyond, s.falseBeyond = s.beyond+o.beyond, s.falseBeyond+o.falseBeyond
	s.errs, s.signed = append(s.errs, o.errs...), append(s.signed, o.signed...)
}

func share(k, n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f %%", 100*float64(k)/float64(n))
}

func percent(x []float64) string {
	if len(x) == 0 {
		return "-"
	}
	y := append([]float64(nil), x...)
	sort.Float64s(y)
	return fmt.Sprintf("%+.1f %%", 100*y[len(y)/2])
}

// table prints the scores and which situations are kept.
func table(of []situation, scores []score) error {
	tw := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "situation\tlamps\tanswered\thold\tmedian error\tsigned\tfalse under\tranges hold\tbeyond false\tkept\tstatus")
	kept := 0
	var all score
	for k, s := range of {
		c := scores[k]
		all.merge(c)
		ok := c.kept(s.tells)
		if ok == "yes" {
			kept++
		}
		c.line(tw, s.name, ok, statuses(c.status))
	}
	all.line(tw, "all", fmt.Sprintf("%d of %d", kept, len(of)), "")
	return tw.Flush()
}

func (c *score) line(tw *tabwriter.Writer, name, kept, note string) {
	fmt.Fprintf(tw, "%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", name, c.asked, share(c.answered, c.asked), share(c.held, c.answered),
		strings.TrimPrefix(percent(c.errs), "+"), percent(c.signed), share(c.falseUnder, c.asked), share(c.heldRange, c.ranges), share(c.falseBeyond, c.beyond), kept, note)
}

// kept says whether the situation's answers are good enough, or why not.
func (c *score) kept(tells bool) string {
	var why []string
	n := len(c.errs)
	if c.answered > 0 {
		e := append([]float64(nil), c.errs...)
		sort.Float64s(e)
		if 10*c.held < 7*c.answered {
			why = append(why, "holds")
		}
		if e[n/2] > .10 {
			why = append(why, "error")
		}
	}
	if 50*c.falseUnder > c.asked {
		why = append(why, "under")
	}
	if c.ranges > 0 && 4*c.heldRange < 3*c.ranges {
		why = append(why, "ranges")
	}
	if tells && 10*c.answered < 7*c.asked {
		why = append(why, "few")
	}
	if len(why) == 0 {
		return "yes"
	}
	return strings.Join(why, ", ")
}

func statuses(m map[string]int) string {
	var names []string
	for n := range m {
		names = append(names, n)
	}
	sort.Strings(names)
	var out []string
	for _, n := range names {
		out = append(out, fmt.Sprintf("%s %d", n, m[n]))
	}
	return strings.Join(out, ", ")
}
