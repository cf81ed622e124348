package workbook

import "testing"

// TestResidueIsZero wants what a sheet computed at the digits that it shows, and the
// rest of a difference of equals as 0.
func TestResidueIsZero(t *testing.T) {
	for raw, want := range map[string]string{
		"812.5": "812.5", "812.30000000000007": "812.3", "2.7755575615628914E-17": "0", "-5.6843418860808015e-14": "0",
		"1E-3": "1E-3",
	} {
		if got := digits(raw, "."); got != want {
			t.Errorf("%s: %s, want %s", raw, got, want)
		}
	}
}
