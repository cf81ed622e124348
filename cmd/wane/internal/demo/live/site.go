package live

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wane/cmd/wane/internal/demo"
)

// Write writes the site folder that collects from the instruments. dir is made
// where it is not there; it must be empty. installed is the invented day on which
// the lamps were hung.
func (l *Loggers) Write(dir string, installed time.Time) error {
	if err := demo.MakeFolder(dir); err != nil {
		return err
	}
	for name, text := range l.files(installed.Format(time.DateOnly)) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

func (l *Loggers) files(installed string) map[string]string {
	var fixtures, sensors strings.Builder
	fixtures.WriteString("fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n")
	sensors.WriteString("sensor,channel,quantity,unit,watches,factor,from,to\nmeter,volts,supply_v,V,c1,1,,\nmeter,hours,run_hours,h,c1,1,,\n")
	for i := range bayA + bayB {
		bay, n := "a", i+1
		if i >= bayA {
			bay, n = "b", i+1-bayA
		}
		id := fmt.Sprintf("%s%d", strings.ToUpper(bay), n)
		fmt.Fprintf(&fixtures, "%s,live,%s,c1,hps-de,lot-1,make L1,1000,230,magnetic,%s,4000\n", id, bay, installed)
		fmt.Fprintf(&sensors, "bay-%s,%d,ppfd,umol/m2/s,%s,1,,\n", bay, n, id)
	}
	return map[string]string{
		"site.yaml":             "name: \"Invented live site\"\ninvented: true\nzone: Europe/Amsterdam\nrooms:\n  live: {on: \"00:00\", hours: 24}\n",
		"register/fixtures.csv": fixtures.String(),
		"register/sensors.csv":  sensors.String(),
		"register/logbook.csv":  "at,what,scope,id,value,note\n",
		"sources/bay-a.yaml": fmt.Sprintf(`# The sensors of bay A publish what they measure.
name: bay-a
time: {format: epoch-s}
collect:
  mqtt:
    broker: mqtt://%s
    topics: ["live/bay-a/+"]
messages:
  - {topic: "live/+/+", payload: json, sensor: "{1}", channel: "{2}", time: $.t, values: [{path: $.ppfd}]}
`, l.brokerAt),
		"sources/meter.yaml": fmt.Sprintf(`# The meter of the circuit is asked for its registers.
name: meter
collect:
  every: 2s
  modbus:
    address: %s
    registers:
      - {address: 0, kind: input, type: uint16, scale: 0.1, sensor: meter, channel: volts}
      - {address: 1, kind: input, type: uint32, scale: 0.001, sensor: meter, channel: hours}
`, l.deviceAt),
		"sources/bay-b.yaml": fmt.Sprintf(`# The logger of bay B is asked for the rows of its last minute.
name: bay-b
format: plain
collect:
  every: 5s
  retries: 1
  http: {url: "http://%s/rows.csv"}
`, l.webAt),
	}
}

// Measure has the instruments measure once a second for so long, or until ctx
// ends; in the middle fifth of the time the logger is away.
func (l *Loggers) Measure(ctx context.Context, now func() time.Time, long time.Duration) error {
	second := time.NewTicker(time.Second)
	defer second.Stop()
	start := now()
	for {
		at := now()
		passed := at.Sub(start)
		l.meter.measure(at, passed)
		l.logger.measure(at, passed >= long*2/5 && passed < long*3/5)
		for i := range bayA {
			text := fmt.Sprintf(`{"t":%d,"ppfd":%.1f}`, at.Unix(), light(i, at))
			if err := l.broker.Publish(fmt.Sprintf("live/bay-a/%d", i+1), []byte(text), false, 1); err != nil {
				return fmt.Errorf("publish: %w", err)
			}
		}
		select {
		case <-ctx.Done():
			return nil
		case <-second.C:
		}
	}
}
