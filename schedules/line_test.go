package schedules

import (
	"errors"
	"strings"
	"testing"
	"time"
)

func TestParseLineRefuses(t *testing.T) {
	for text, why := range map[string]string{
		"":                              "empty",
		"15 2 * *":                      "expected exactly 5 fields",
		"0 15 2 * * *":                  "expected exactly 5 fields",
		"60 2 * * *":                    "above maximum",
		"0 2 * * 7":                     "Sunday is 0",
		"0 0 31 2 *":                    "no such date exists",
		", 2 * * *":                     "a field names no value",
		"@every 1h":                     "an interval has no clock times",
		"@sometimes":                    "unrecognized",
		"TZ=Europe/Amsterdam":           "no time zone of its own",
		"CRON_TZ=UTC 0 2 * * *":         "no time zone of its own",
		"  TZ=America/New_York 0 2 * *": "no time zone of its own",
	} {
		_, err := ParseLine(text)
		if !errors.Is(err, ErrLine) || !strings.Contains(err.Error(), why) {
			t.Errorf("%q: error %v, want one with %q", text, err, why)
		}
		if err != nil && !strings.HasSuffix(err.Error(), lineHint) {
			t.Errorf("%q: error %q does not say what to write", text, err)
		}
	}
}

func TestParseLineTakes(t *testing.T) {
	for _, text := range []string{"15 2 * * *", " 0 6 2 1 * ", "*/5 * * * mon-fri", "0 0 29 2 *", "@daily", "@yearly"} {
		l, err := ParseLine(text)
		if err != nil {
			t.Error(err)
		}
		if l.String() != strings.TrimSpace(text) {
			t.Errorf("%q is shown as %q", text, l)
		}
	}
}

// FuzzParseLine looks for lines that crash, or are taken and then have no slot
// after any time.
func FuzzParseLine(f *testing.F) {
	for _, s := range []string{"15 2 * * *", "0 6 2 1 *", "@daily", "@every 1s", "TZ=", "CRON_TZ=x", "*/0 * * * *",
		"0 0 29 2 */2", "1-0 * * * *", ",,, , , , ,", "0 0 31 4,6 *", "? ? ? ? ?", "9223372036854775807 * * * *",
		"0 0 2 1 ?"} {
		f.Add(s)
	}
	z := zone(f, "Europe/Amsterdam")
	after := time.Date(2096, 3, 1, 0, 0, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, text string) {
		l, err := ParseLine(text)
		if err != nil {
			if !errors.Is(err, ErrLine) {
				t.Fatalf("error %v is no ErrLine", err)
			}
			return
		}
		if n := l.Next(z, after); !n.After(after) || n.After(after.AddDate(9, 0, 0)) {
			t.Fatalf("%q: next after %v is %v", text, after, n)
		}
	})
}
