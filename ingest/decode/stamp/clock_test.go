package stamp

import (
	"testing"

	"pgregory.net/rapid"
)

// TestClockAfterTheSameDay reads a stamp by a parser that knows its day and by
// a fresh one, and wants the same.
func TestClockAfterTheSameDay(t *testing.T) {
	for _, pattern := range []string{"yyyy-MM-dd HH:mm", "dd.MM.yyyy HH:mm:ss", "yyyy-MM-dd'T'HH.mm", "M/d/yy HH:mm",
		"yyyy-MM-dd H:mm", "yyyyMMddHH:mm", "yyyy-MM-dd HH mm", "yyyy-MM-dd HHmm"} {
		f, err := Compile(pattern)
		if err != nil {
			t.Fatal(err)
		}
		rapid.Check(t, func(t *rapid.T) {
			day := map[byte]string{'y': "2026-11-02 ", 'd': "02.11.2026 ", 'M': "11/2/26 "}[pattern[0]]
			if pattern[8] == 'H' {
				day = "20261102"
			} else if pattern[10] == '\'' {
				day = "2026-11-02T"
			}
			tail := rapid.OneOf(
				rapid.StringMatching(`[0-2][0-9][:. ]?[0-6][0-9](:[0-6][0-9])?`),
				rapid.SampledFrom([]string{"", "24:00", "24:00:00", "23:60", "23:59:60", "1:00", " 1:00", "-1:00", "00:0x",
					"12:30 ", "00:00:0/", "99:00"}),
			).Draw(t, "tail")
			p := NewParser(f, UTC)
			for _, first := range []string{"00:00", "00:00:00", "00.00", "00 00", "0000"} {
				p.Parse([]byte(day + first))
			}
			got, gotErr := p.Parse([]byte(day + tail))
			want, wantErr := NewParser(f, UTC).Parse([]byte(day + tail))
			if got != want || (gotErr == nil) != (wantErr == nil) || gotErr != nil && *gotErr != *wantErr {
				t.Fatalf("%s: %q gives %v %v after its day, %v %v alone", pattern, day+tail, got, gotErr, want, wantErr)
			}
		})
	}
}
