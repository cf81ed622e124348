package main

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// write plays the world and writes its site folder.
func (w *world) write(dir string) error {
	for _, d := range []string{"register", "inbox", "sources"} {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o755); err != nil {
			return err
		}
	}
	hung := w.hung()
	f, err := os.Create(filepath.Join(dir, "inbox", "readings.csv"))
	if err != nil {
		return err
	}
	out := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintln(out, "time,sensor,channel,value")
	w.play(func(day int, hour float64, s *sensor, channel string, v float64) {
		t := time.Unix(int64(day0+day)*86400+int64(math.Round(hour*3600)), 0).UTC()
		fmt.Fprintf(out, "%s,%s,%s,%.4g\n", t.Format("2006-01-02T15:04:05Z"), s.id, channel, v)
	})
	if err := out.Flush(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	for name, text := range map[string]string{"site.yaml": w.site(), "register/fixtures.csv": hung, "register/sensors.csv": w.series(), "register/logbook.csv": w.logbook()} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

func (w *world) site() string {
	th := fmt.Sprintf("  default: %.3g\n", w.threshold)
	room := fmt.Sprintf("  room-1: {on: \"%02d:00\", hours: %.3g}\n", w.onHour, w.hours(0))
	if w.daylit {
		room = fmt.Sprintf("  room-1: {on: \"%02d:00\", hours: %.3g, daylight: true}\n", w.onHour, w.hours(0))
	}
	if w.staysClean {
		room = fmt.Sprintf("  room-1: {on: \"%02d:00\", hours: %.3g, stays_clean: true}\n", w.onHour, w.hours(0))
	}
	return "name: Invented site\nzone: " + w.zone + "\ninvented: true\n" + w.yaml + "thresholds:\n" + th + "rooms:\n" + room
}

// hung is register/fixtures.csv as on the first day.
func (w *world) hung() string {
	var b strings.Builder
	b.WriteString("fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n")
	for _, f := range w.fixtures {
		hours := ""
		if f.lamp.hours > 0 {
			hours = fmt.Sprintf("%.0f", f.lamp.hours)
		}
		fmt.Fprintf(&b, "%s,room-1,%s,%s,%s,%s,make K,600,240,%s,%s,%s\n", f.id, f.bay, f.circuit, f.lamp.kind, f.lamp.cohort, f.gear, date(0), hours)
	}
	return b.String()
}

func (w *world) series() string {
	var b strings.Builder
	b.WriteString("sensor,channel,quantity,unit,watches,factor,from,to\n")
	bays := map[string]bool{}
	for _, x := range w.watches {
		fmt.Fprintf(&b, "%s,%s,ppfd,umol/m2/s,%s,%.4g,%s,%s\n", x.s.id, x.channel, x.watchedBy, x.factor, x.rowFrom, x.rowTo)
	}
	for _, f := range w.fixtures {
		bays[f.bay] = true
	}
	names := make([]string, 0, len(bays))
	for n := range bays {
		names = append(names, n)
	}
	sort.Strings(names)
	if w.counter {
		for _, n := range names {
			fmt.Fprintf(&b, "HM-%s,h,run_hours,h,%s,1,,\n", n, n)
		}
	}
	b.WriteString("PANEL-1,U,supply_v,V,C-1,1,,\n")
	if w.airLog {
		b.WriteString("AIR-1,T,ambient_c,degC,room-1,1,,\n")
	}
	return b.String()
}

func (w *world) logbook() string {
	sort.SliceStable(w.log, func(i, j int) bool { return w.log[i].day < w.log[j].day })
	var b strings.Builder
	b.WriteString("at,what,scope,id,value,note\n")
	for _, e := range w.log {
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s\n", date(e.day), e.what, e.scope, e.id, e.value, e.nt)
	}
	return b.String()
}
