package queries

import (
	"context"
	"testing"
	"time"
)

// supply checks the statements on circuits against the golden data set: series
// p/a, half-hourly, to be multiplied by 10 for volts.
func supply(t *testing.T, db *DB) {
	t.Helper()
	ctx, end := context.Background(), day0.AddDate(0, 0, 1)
	rows, err := SupplyHistogram(ctx, db, "p", "a", 10, end)
	if err != nil || len(rows) != 4 || rows[0].Hour != day0.Unix()/3600 || rows[0].Bin != 462 || rows[3].Bin != 460 ||
		rows[3].Volts != 230 || rows[2].Bin != 380 {
		t.Errorf("histogram: %+v %v", rows, err)
	}
	half, err := SupplyHistogram(ctx, db, "p", "a", 10, day0.Add(time.Hour))
	if err != nil || len(half) != 2 {
		t.Errorf("histogram up to 01:00: %+v %v", half, err)
	}
	cad, err := SupplyCadence(ctx, db, "p", "a", end)
	if err != nil || len(cad) != 1 || cad[0].Seconds.V != 1800 || cad[0].Readings != 4 {
		t.Errorf("cadence: %+v %v", cad, err)
	}
	out, err := SupplyOutside(ctx, db, "p", "a", 10, 207, 253, end)
	if err != nil || len(out) != 1 || out[0].Volts != 190 || out[0].VoltsBefore.V != 235 ||
		!out[0].TimeAfter.V.Equal(day0.Add(90*time.Minute)) {
		t.Errorf("outside: %+v %v", out, err)
	}
	ph, err := SupplyPhases(ctx, db, [3][2]string{{"p", "a"}, {"p", "b"}, {"p", "c"}}, end)
	if err != nil || len(ph) != 1 || ph[0].First != 21 || ph[0].Second != 22 || ph[0].Third != 24 {
		t.Errorf("phases: %+v %v", ph, err)
	}
}
