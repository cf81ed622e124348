package stamp

import (
	"testing"
	"time"
)

// TestRFC3339Time wants the end of a day as the next midnight, and nothing else
// of hour 24. Source: ISO 8601:2004, 4.2.3, from memory.
func TestRFC3339Time(t *testing.T) {
	for text, want := range map[string]string{
		"2026-02-28T24:00:00Z":          "2026-03-01T00:00:00Z",
		"2026-12-31T24:00:00.000+01:00": "2026-12-31T23:00:00Z",
		"2026-02-28T23:59:59Z":          "2026-02-28T23:59:59Z",
		"2026-02-28T24:00:01Z":          "",
		"2026-02-28T24:00:00.5Z":        "",
		"2026-02-30T24:00:00Z":          "",
		"T24:00:00Z":                    "",
	} {
		got := ""
		if at, err := RFC3339Time(text); err == nil {
			got = at.UTC().Format(time.RFC3339Nano)
		}
		if got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}
