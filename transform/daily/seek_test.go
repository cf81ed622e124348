package daily

import (
	"testing"

	"pgregory.net/rapid"
)

// Wherever the seeker stood, it finds what looking at every reading finds.
func TestSeekerFindsTheLatest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var track Track
		at := int64(0)
		for i := range rapid.IntRange(0, 80).Draw(t, "n") {
			at += rapid.Int64Range(0, 5).Draw(t, "step")
			track.Time, track.Value = append(track.Time, at), append(track.Value, float64(i))
		}
		s := seeker{track: track}
		for range 20 {
			when, within := rapid.Int64Range(-3, at+5).Draw(t, "when"), rapid.Int64Range(0, 9).Draw(t, "within")
			want, known := 0.0, false
			for i, x := range track.Time {
				if x <= when {
					want, known = track.Value[i], when-x <= within
				}
			}
			if got, ok := s.latest(when, within); ok != known || ok && got != want {
				t.Fatalf("at %d within %d: %v %v, want %v %v", when, within, got, ok, want, known)
			}
		}
	})
}
