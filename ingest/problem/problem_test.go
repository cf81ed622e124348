package problem

import "testing"

func TestFewNamesTheFirstAndCountsTheRest(t *testing.T) {
	for _, c := range []struct {
		names []string
		want  string
	}{
		{nil, ""}, {[]string{"a"}, "a"}, {[]string{"a", "b"}, "a, b"}, {[]string{"a", "b", "c", "d"}, "a, b and 2 more"},
	} {
		if got := Few(c.names, 2); got != c.want {
			t.Errorf("Few(%v, 2) = %q, want %q", c.names, got, c.want)
		}
	}
}

func TestNearestIsNear(t *testing.T) {
	words := []string{"hours", "rooms", "zone"}
	if got := Nearest("hour", words); got != "hours" {
		t.Errorf("hour: %q", got)
	}
	if got := Nearest("temperature", words); got != "" {
		t.Errorf("temperature: %q", got)
	}
}
