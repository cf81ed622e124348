package problem

import (
	"fmt"
	"strings"
	"testing"
)

// TestLikeProblemsAreSaidOnce: 38 lines that say one thing hide the two that say
// another. No line is left unnamed.
func TestLikeProblemsAreSaidOnce(t *testing.T) {
	var l List
	for i := range 38 {
		l = append(l, Problem{"register/sensors.csv", i + 2, 12,
			fmt.Sprintf("watches: nothing is called %q", fmt.Sprint("f", i)), "name a fixture"})
	}
	l = append(l, Problem{"register/sensors.csv", 5, 3, "quantity: \"lux\" is not known", "known: ppfd"},
		Problem{"register/fixtures.csv", 9, 1, "watches: nothing is called \"f1\"", "name a fixture"},
		Problem{"register/sensors.csv", 50, 12, "watches: nothing is called \"a 1\"", ""})
	l.Sort()
	want := `register/fixtures.csv:9:1: watches: nothing is called "f1"; name a fixture
register/sensors.csv:2:12: watches: nothing is called "f0"; name a fixture
register/sensors.csv:3:12: watches: nothing is called "f1"; name a fixture
register/sensors.csv:4:12: watches: nothing is called "f2"; name a fixture
register/sensors.csv:5:3: quantity: "lux" is not known; known: ppfd
register/sensors.csv: 36 more such lines (watches: nothing is called "f3"): 5-39, 50`
	if got := l.Error(); got != want {
		t.Error(got)
	}
	if got := l[:5].Error(); strings.Count(got, "\n") != 4 || strings.Contains(got, "more such") {
		t.Errorf("four of a kind fit on the screen:\n%s", got)
	}
}

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
