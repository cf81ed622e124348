package register

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// BenchmarkParse reads the register of 1,000 fixtures with 7 channels each.
func BenchmarkParse(b *testing.B) {
	hung := strings.Join(FixtureColumns, ",") + "\n"
	sensors := strings.Join(SensorColumns, ",") + "\n"
	for i := range 1000 {
		id := fmt.Sprintf("f%04d", i)
		hung += fmt.Sprintf("%s,room%d,bay%d,c%d,hps-de,lot%d,,1000,230,magnetic,2026-10-01,0\n", id, i/250, i/25, i/50, i%3)
		for _, c := range []string{"ppfd,ppfd,umol/m2/s", "run_hours,run_hours,h", "supply_v,supply_v,V",
			"current_a,current_a,A", "power_w,power_w,W", "ambient_c,ambient_c,degC", "dim_pct,dim_pct,%"} {
			sensors += fmt.Sprintf("%s,%s,%s,1,,\n", id, c, id)
		}
	}
	logbook := strings.Join(LogbookColumns, ",") + "\n"
	b.ReportAllocs()
	for b.Loop() {
		r, found := Parse([]byte(hung), []byte(sensors), []byte(logbook), time.UTC)
		if len(found) > 0 || len(r.Sensors) != 7000 {
			b.Fatal(found)
		}
	}
}
