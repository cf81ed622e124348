// Command decline compares the forecast of a great fleet with the plain way in
// SQL, and a night's update with the forecast from the whole history, on the
// same daily values in one run:
//
//	go run ./cmd/wane/testdata/bench/decline -fixtures 10000 -years 5
//
// Plain: run-hours by sum() OVER (PARTITION BY fixture ORDER BY day), then
// regr_slope of ln(output) on hours for every fixture. Ours: derive.Ask, from
// the same parts of table daily to every lamp's due date. A night's update:
// derive.Settle, Ask and Store, on an archive that the night before has left
// and that has a day more of table daily; of an ordinary night, of one on which
// a week ends, and of one on which a month begins. Its answers must be those of
// Ask from the whole history. Each is a process of its own, so that its peak
// memory is its own too. The daily values are invented: an exponential decline,
// a swing of the supply, a little noise.
package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/pprof"
	"strings"
	"time"

	_ "github.com/marcboeker/go-duckdb"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/report"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/testdata/bench/beside"
	"wane/transform/fleet"
)

var (
	fixtures = flag.Int("fixtures", 10000, "how many")
	years    = flag.Int("years", 5, "how many")
	runs     = flag.Int("runs", 3, "runs of each; the best counts")
	dir      = flag.String("dir", "", "folder to work in, kept and used again; empty: a temporary one")
	profile  = flag.String("cpuprofile", "", "write a profile of our last run here")
	pages    = flag.Bool("report", false, "measure levels, steps and pages of all fixtures too: some minutes")
	part     = flag.String("part", "", "internal: make, forget, sql, ask, leave, night or report")
	through  = flag.Int("through", 0, "internal: the last day, counted from the record's first")
)

// begun is the record's first day.
var begun = time.Date(2021, 1, 1, 0, 0, 0, 0, time.UTC)

func main() {
	log.SetFlags(0)
	flag.Parse()
	var err error
	switch *part {
	case "":
		err = compare()
	case "make":
		err = generate()
	case "forget":
		err = forget()
	case "sql":
		err = timed(plain)
	case "ask":
		err = timed(ask)
	case "report":
		err = timed(whole)
	case "leave", "night":
		err = timed(night)
	}
	if err != nil {
		log.Fatal(err)
	}
}

func compare() error {
	if *dir == "" {
		tmp, err := os.MkdirTemp("", "decline")
		if err != nil {
			return err
		}
		defer os.RemoveAll(tmp)
		*dir = tmp
	}
	first := int(begun.Unix() / 86400)
	ends := func(day int) bool { return (first+day+1)%7 == 0 } // a week of the blocks' grid
	ordinary := days() - 1
	for ends(ordinary) {
		ordinary--
	}
	turn := ordinary - 1
	for !ends(turn) {
		turn--
	}
	monthly := turn
	for begun.AddDate(0, 0, monthly).Day() != 1 || ends(monthly) {
		monthly--
	}

	full, err := best(ordinary, "sql", "ask")
	if err != nil {
		return err
	}
	s, a := full["sql"], full["ask"]
	fmt.Printf("%d fixtures x %d years: ask/sql wall %.2f, processor %.2f; ask peaks at %.2f GiB\n",
		*fixtures, *years, a.wall/s.wall, a.cpu/s.cpu, float64(a.mib)/1024)
	for _, kind := range []struct {
		what string
		day  int
	}{{"an ordinary night", ordinary}, {"a night on which a week ends", turn}, {"a night on which a month begins", monthly}} {
		m, err := nightly(kind.day)
		if err != nil {
			return fmt.Errorf("%s: %w", kind.what, err)
		}
		fmt.Printf("%s: %.2f s (processor %.2f s), peak %d MiB: night/ask wall %.2f, processor %.2f\n", kind.what, m.wall, m.cpu, m.mib, m.wall/a.wall, m.cpu/a.cpu)
	}
	if !*pages {
		return nil
	}
	if _, err := child("make", ordinary); err != nil {
		return err
	}
	m, err := child("report", ordinary)
	if err != nil {
		return err
	}
	fmt.Printf("levels, unexplained steps and pages: %.0f s (processor %.0f s), peak %.2f GiB\n", m.wall, m.cpu, float64(m.mib)/1024)
	return nil
}

// best runs each of some parts on the whole history up to a day.
func best(day int, parts ...string) (map[string]measure, error) {
	for _, before := range []string{"make", "forget"} { // not here: what a child holds is counted from what its parent held
		if _, err := child(before, day); err != nil {
			return nil, err
		}
	}
	out := map[string]measure{}
	for range *runs {
		for _, what := range parts {
			m, err := child(what, day)
			if err != nil {
				return nil, err
			}
			fmt.Printf("%-4s %6.2f s (processor %6.2f s), peak %4d MiB\n", what, m.wall, m.cpu, m.mib)
			if b, ok := out[what]; !ok || m.wall < b.wall {
				out[what] = m
			}
		}
	}
	return out, nil
}

// nightly is the best of some nights, each after the night before.
func nightly(day int) (measure, error) {
	var out measure
	for i := range *runs {
		for _, before := range []struct {
			what string
			day  int
		}{{"make", day - 1}, {"forget", day - 1}, {"leave", day - 1}, {"make", day}} {
			if _, err := child(before.what, before.day); err != nil {
				return out, err
			}
		}
		m, err := child("night", day)
		if err != nil {
			return out, err
		}
		if i == 0 || m.wall < out.wall {
			out = m
		}
	}
	if _, err := child("forget", day); err != nil {
		return out, err
	}
	whole, err := child("ask", day)
	if err == nil && whole.said != out.said {
		err = errors.New("the answers differ from those of the whole history")
	}
	return out, err
}

type measure struct {
	wall, cpu float64 // s
	mib       int
	said      string // a hash of the answers
}

func child(what string, day int) (measure, error) {
	args := []string{"-part", what, "-dir", *dir, "-fixtures", fmt.Sprint(*fixtures), "-years", fmt.Sprint(*years), "-through", fmt.Sprint(day)}
	if *profile != "" {
		args = append(args, "-cpuprofile", *profile+"."+what)
	}
	out, c, err := beside.Child(args...)
	if err != nil {
		return measure{}, err
	}
	var m measure
	if out != "" {
		if _, err := fmt.Sscan(out, &m.wall, &m.said); err != nil {
			return m, fmt.Errorf("%s said %q: %w", what, out, err)
		}
	}
	m.cpu, m.mib = c.CPU/1000, c.MiB
	return m, nil
}

// timed prints how long a part took, and what it said.
func timed(f func() (string, error)) error {
	if *profile != "" {
		p, err := os.Create(*profile)
		if err != nil {
			return err
		}
		if err := pprof.StartCPUProfile(p); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	before := time.Now()
	said, err := f()
	fmt.Println(time.Since(before).Seconds(), said)
	return err
}

func plain() (string, error) {
	a, err := archive.Open(filepath.Join(*dir, "archive"))
	if err != nil {
		return "", err
	}
	var files []string
	for _, p := range a.Parts(derive.TableDaily) {
		files = append(files, "'"+a.Path(p)+"'")
	}
	db, err := sql.Open("duckdb", "?threads=2&autoinstall_known_extensions=false&autoload_known_extensions=false")
	if err != nil {
		return "", err
	}
	defer db.Close()
	var n int
	var sum float64
	err = db.QueryRow(`WITH x AS (SELECT fixture, ppfd, dim_pct, sum(lit_h + edge_h / 2) OVER (PARTITION BY fixture ORDER BY day) AS hours
			FROM read_parquet([`+strings.Join(files, ",")+`])),
		y AS (SELECT fixture, regr_slope(ln(ppfd / dim_pct * 100), hours) AS slope FROM x WHERE ppfd > 0 GROUP BY fixture)
		SELECT count(*), sum(slope) FROM y`).Scan(&n, &sum)
	if err == nil && (n != *fixtures || sum >= 0) {
		err = fmt.Errorf("%d slopes, their sum %g", n, sum)
	}
	return "slopes", err
}

// place is the invented site.
func place() derive.Site {
	config := site.Defaults()
	config.Name, config.Zone, config.Location, config.Invented = "Invented great site", "UTC", time.UTC, true
	return derive.Site{Config: config, Register: register(), Hash: "invented"}
}

func lastDay() int32 { return int32(begun.Unix()/86400) + int32(*through) }

// ask answers from the whole history.
func ask() (string, error) {
	a, err := archive.Open(filepath.Join(*dir, "archive"))
	if err != nil {
		return "", err
	}
	r, err := derive.Ask(context.Background(), a, place(), derive.Question{Lean: true, AsOf: lastDay()})
	if err != nil {
		return "", err
	}
	return said(r)
}

// night answers from what the night before left, and leaves the same for the
// next.
func night() (string, error) {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return "", err
	}
	a, err := archive.Open(filepath.Join(*dir, "archive"))
	if err != nil {
		return "", err
	}
	ctx, s := context.Background(), place()
	if a, err = derive.Settle(ctx, lock, a, s, lastDay()); err != nil {
		return "", err
	}
	r, err := derive.Ask(ctx, a, s, derive.Question{Lean: true, AsOf: lastDay()})
	if err != nil {
		return "", err
	}
	if _, err := derive.Store(lock, a, s, r); err != nil {
		return "", err
	}
	if err := lock.Release(); err != nil {
		return "", err
	}
	return said(r)
}

// whole makes what a report reads the whole history for, but for the plan.
func whole() (string, error) {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return "", err
	}
	a, err := archive.Open(filepath.Join(*dir, "archive"))
	if err != nil {
		return "", err
	}
	ctx, s := context.Background(), place()
	lives, reg, err := derive.Lives(a, s, lastDay())
	if err != nil {
		return "", err
	}
	if a, err = derive.Levels(lock, lives, time.UTC); err != nil {
		return "", err
	}
	r, err := derive.AskOf(ctx, a, s, derive.Question{AsOf: lastDay()}, lives, reg)
	if err != nil {
		return "", err
	}
	r.Questions = derive.UnexplainedSteps(lives, reg, s)
	if err := report.Write(filepath.Join(*dir, "reports"), report.Input{Config: s.Config, Result: r}); err != nil {
		return "", err
	}
	if err := lock.Release(); err != nil {
		return "", err
	}
	return said(r)
}

// said is a hash of the answers.
func said(r *derive.Result) (string, error) {
	known := 0
	h := sha256.New()
	for _, l := range r.Lines() {
		if l.Answer.DueHours.Known() {
			known++
		}
		fmt.Fprintf(h, "%+v\n", l)
	}
	if len(r.Due) != *fixtures || known < len(r.Due)/2 {
		return "", fmt.Errorf("%d lamps, %d due dates", len(r.Due), known)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// forget removes what nights have left.
func forget() error {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return err
	}
	d, err := archive.Derive(lock, derive.TableSettled, derive.TableOpen, derive.TableWeeks, derive.TablePosteriors, derive.TablePast, derive.TableDue)
	if err != nil {
		return err
	}
	if _, err := d.Commit(); err != nil {
		return err
	}
	return lock.Release()
}

func days() int { return *years * 365 }

func name(i int) string { return fmt.Sprintf("f%05d", i) }

var types = []fleet.LampType{fleet.HPSDE, fleet.HPSSE, fleet.CMH, fleet.LED}

// register hangs twenty fixtures under each sensor, ten sensors in a room, with
// cleanings twice a year and a recalibration once a year.
func register() *fleet.Register {
	reg := &fleet.Register{}
	for i := range *fixtures {
		t := types[i/200%len(types)]
		room := fmt.Sprintf("room%03d", i/200)
		reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: name(i), Room: room, Bay: fmt.Sprintf("%s-%02d", room, i/20%10), LampType: t,
			Cohort: fmt.Sprintf("lot-%s-%d", t, i/2000), RatedW: 1000, RatedV: 230, Gear: fleet.Electronic, Installed: begun})
		reg.Sensors = append(reg.Sensors, fleet.SensorPeriod{Sensor: sensor(i), Channel: fmt.Sprint(i % 20), Quantity: fleet.PPFD, Unit: "umol/m2/s", Watches: name(i), Factor: 1})
	}
	for y := range *years {
		for r := range (*fixtures + 199) / 200 {
			for half := range 2 {
				reg.Logbook = append(reg.Logbook, fleet.Entry{At: begun.AddDate(y, 6*half+3, 9), What: fleet.Clean, Scope: fleet.OfRoom, ID: fmt.Sprintf("room%03d", r), Value: "all"})
			}
		}
		for l := range (*fixtures + 19) / 20 {
			reg.Logbook = append(reg.Logbook, fleet.Entry{At: begun.AddDate(y, 8, l%28), What: fleet.Recalibrate, Scope: fleet.OfSensor, ID: sensor(20 * l), Number: 0.985})
		}
	}
	reg.Sort()
	return reg
}

func sensor(i int) string { return fmt.Sprintf("log%04d", i/20) }

// generate writes table daily up to a day, a part a month, as the roll-up does.
func generate() error {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return err
	}
	d, err := archive.Derive(lock, derive.TableDaily)
	if err != nil {
		return err
	}
	first := int(begun.Unix() / 86400)
	for at := begun; int(at.Unix()/86400) <= first+*through; at = at.AddDate(0, 1, 0) {
		last := min(int(at.AddDate(0, 1, 0).Unix()/86400), first+*through+1)
		partition := "month=" + at.Format("2006-01")
		key := archive.Key(nil, "bench", fmt.Sprint(*fixtures, *years, partition, last))
		if d.Keep(derive.TableDaily, partition, key) {
			continue
		}
		if _, err := d.Write(derive.TableDaily, partition, key, month(int(at.Unix()/86400), last)); err != nil {
			return err
		}
	}
	if _, err := d.Commit(); err != nil {
		return err
	}
	return lock.Release()
}

// month makes the rows of days from to last-1, by fixture and day.
func month(from, last int) []archive.Column {
	n := *fixtures * (last - from)
	text := func(name string) *archive.Column {
		return &archive.Column{Name: name, Type: archive.String, Text: make([]string, n)}
	}
	whole := func(name string, v int64) *archive.Column {
		c := &archive.Column{Name: name, Type: archive.Int64, Int: make([]int64, n)}
		for i := range c.Int {
			c.Int[i] = v
		}
		return c
	}
	number := func(name string, v float64) *archive.Column {
		c := &archive.Column{Name: name, Type: archive.Float64, Float: make([]float64, n)}
		for i := range c.Float {
			c.Float[i] = v
		}
		return c
	}
	maybe := func(name string, v float64) *archive.Column {
		c := number(name, v)
		c.Valid = make([]bool, n)
		for i := range c.Valid {
			c.Valid[i] = !math.IsNaN(v)
			if !c.Valid[i] {
				c.Float[i] = 0
			}
		}
		return c
	}
	moment := func(name string) *archive.Column {
		return &archive.Column{Name: name, Type: archive.Timestamp, Int: make([]int64, n), Valid: make([]bool, n)}
	}
	nan := math.NaN()
	fixture, logger, channel := text("fixture"), text("sensor"), text("channel")
	day := &archive.Column{Name: "day", Type: archive.Date, Int: make([]int64, n)}
	ppfd, supply := maybe("ppfd", 1), maybe("supply_v", 230)
	cols := []*archive.Column{
		fixture, day, number("hours", 24), logger, channel, whole("readings", 288), whole("usable", 120), ppfd, maybe("spread", .003), maybe("dim_pct", 100),
		supply, maybe("ambient_c", 25), maybe("power_w", nan), maybe("current_a", nan), number("lit_h", 12), number("edge_h", .08), number("gap_h", 0), whole("starts", 1),
		maybe("meter_first", nan), moment("meter_first_at"), maybe("meter_last", nan), moment("meter_last_at"), maybe("energy_first", nan), maybe("energy_last", nan),
		whole("unlit", 144), whole("daylight", 0), whole("implausible", 0), whole("running_up", 3), whole("edge", 1), whole("stuck", 0), whole("odd_dim", 0), whole("odd_supply", 0),
		whole("shadowed", 0), whole("conflicting", 0),
	}
	first := int(begun.Unix() / 86400)
	k := 0
	for i := range *fixtures {
		rng := rand.New(rand.NewPCG(uint64(i), uint64(from)))
		slope := (.06 + .01*float64(i%7)) / 1e4
		for d := from; d < last; d++ {
			v := 230 * (1 + .01*math.Sin(float64(d)/40) + .003*rng.NormFloat64())
			h := 12.04 * float64(d-first+1)
			fixture.Text[k], day.Int[k], logger.Text[k], channel.Text[k] = name(i), int64(d), sensor(i), fmt.Sprint(i%20)
			supply.Float[k] = math.Round(v*10) / 10
			ppfd.Float[k] = math.Round(8000*math.Exp(-slope*h+.05*math.Log(v/230)+.004*rng.NormFloat64())) / 10
			k++
		}
	}
	out := make([]archive.Column, len(cols))
	for i, c := range cols {
		out[i] = *c
	}
	return out
}
