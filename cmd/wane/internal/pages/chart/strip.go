package chart

import (
	"fmt"
	"strings"
	"wane/transform/estimate"
)

// Strip is a level as a dot with its interval on a scale from one number to
// another, with a stroke at the threshold, small enough for a table. It says
// nothing that the number beside it does not. A level that is not finite gives
// an empty string.
func Strip(level, lo, hi, threshold, from, to float64, under bool) string {
	if !estimate.Finite(level) || !(from < to) {
		return ""
	}
	at := func(v float64) float64 { return 4 + 92*min(max((v-from)/(to-from), 0), 1) }
	look := "over"
	if under {
		look = "under"
	}
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="strip %s" viewBox="0 0 100 14" width="100" height="14" aria-hidden="true"><path class="scale" d="M4 7H96"/>`, look)
	if estimate.Finite(threshold) {
		fmt.Fprintf(&out, `<path class="threshold" d="M%.1f 1V13"/>`, at(threshold))
	}
	if estimate.Finite(lo) && estimate.Finite(hi) {
		fmt.Fprintf(&out, `<path class="interval" d="M%.1f 7H%.1f"/>`, at(lo), at(hi))
	}
	if look == "under" {
		fmt.Fprintf(&out, `<rect class="level" x="%.1f" y="3.5" width="7" height="7"/>`, at(level)-3.5)
	} else {
		fmt.Fprintf(&out, `<circle class="level" cx="%.1f" cy="7" r="3.5"/>`, at(level))
	}
	out.WriteString("</svg>")
	return out.String()
}
