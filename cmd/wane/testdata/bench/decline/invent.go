package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
	"wane/transform/fleet"
)

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

// generate writes table daily up to a day, as the roll-up does: a part a month, a
// part a day in the last.
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
	end := first + *through + 1
	for at := begun; int(at.Unix()/86400) < end; at = at.AddDate(0, 1, 0) {
		from, to := int(at.Unix()/86400), int(at.AddDate(0, 1, 0).Unix()/86400)
		if to <= end {
			if err := put(d, at.Format("month=2006-01/day=all"), from, to); err != nil {
				return err
			}
			continue
		}
		for day := from; day < end; day++ {
			if err := put(d, begun.AddDate(0, 0, day-first).Format("month=2006-01/day=02"), day, day+1); err != nil {
				return err
			}
		}
	}
	if _, err := d.Commit(); err != nil {
		return err
	}
	return lock.Release()
}

// put writes a part of days from to to-1, unless it is there.
func put(d *archive.Derivation, partition string, from, to int) error {
	key := archive.Key(nil, "bench", fmt.Sprint(*fixtures, *years, partition))
	if d.Keep(derive.TableDaily, partition, key) {
		return nil
	}
	_, err := d.Write(derive.TableDaily, partition, key, month(from, to))
	return err
}

// scattered makes a seed of a small number, so that those of neighbours have
// nothing in common (the finaliser of SplitMix64, Steele et al. 2014).
func scattered(x uint64) uint64 {
	x = (x + 1) * 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
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
		slope := (.06 + .01*float64(i%7)) / 1e4
		for d := from; d < last; d++ {
			rng := rand.New(rand.NewPCG(scattered(uint64(i)), scattered(uint64(d))))
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
