package inspect

import (
	"strings"
	"testing"

	"wane/ingest/decode/stamp"
)

// FuzzShapes: whatever a cell holds, each way to read it as a stamp compiles, and the pattern
// reads the cell or says why it does not.
func FuzzShapes(f *testing.F) {
	for _, s := range []string{
		"2026-07-01 12:00", "01.07.26 3:05 nachm.", "1. Juli 2026, 12h00", "Mi., 01/07/2026 24:00:00", "2026年7月1日 下午3:05",
		"/Date(1782864000000)/", "20260701T120000Z",
		"00:00 - 01:00 01.07.2026", "2026-07-01T00:00:00.0/2026-07-01T00:01:00.0", "Jul 1, 2026 12:00:00 PM GMT+02:00",
		"45000,5", "2026-182 1200", "01/07/2026 2:05 p. m.",
	} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, cell string, interval bool) {
		if len(cell) > 200 {
			return
		}
		for _, s := range shapesOf(cell, interval) {
			p, ok := compiled(s.pattern)
			if !ok {
				t.Fatalf("%q gives %q, which does not compile", cell, s.pattern)
			}
			if _, err := stamp.NewParser(p.format, stamp.UTC).Parse([]byte(cell)); err != nil && err.Code == "" {
				t.Fatalf("%q by %q: an error without a code", cell, s.pattern)
			}
			if loose, ok := compiled(loosen(s.pattern, twoDigits...)); ok {
				a, fits := p.fits(cell)
				if b, too := loose.fits(cell); fits && (!too || a != b) {
					t.Fatalf("%q reads by %q, and otherwise by %q", cell, s.pattern, loosen(s.pattern, twoDigits...))
				}
			}
		}
	})
}

// FuzzDays: a run of columns that is taken for the times of a day begins within the day, goes
// forward, and is not longer than one.
func FuzzDays(f *testing.F) {
	for _, s := range []string{"date|00:00|00:15|00:30", "Tag|H1|H2|H3", "d|0015|0030|2400",
		"x|00:00 - 01:00|01:00 - 02:00", "day|23:00|24:00", "a|Q96|Q97"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, head string) {
		names := strings.Split(head, "|")
		if len(names) > 200 || len(head) > 2000 {
			return
		}
		for c := range names {
			for _, labels := range []func(string) (int, int, bool){clockMinutes, digitMinutes, numberMinutes(24),
				numberMinutes(48), numberMinutes(96)} {
				run, ok := runFrom(names, c, labels)
				if !ok {
					continue
				}
				if run.first != c || run.count < 2 || c+run.count > len(names) || run.begin < 0 || run.begin >= 1440 {
					t.Fatalf("%q from column %d: %+v", head, c, run)
				}
				if !run.odd && 1440%run.count != 0 {
					t.Fatalf("%q from column %d: %d columns part a day evenly", head, c, run.count)
				}
			}
		}
	})
}
