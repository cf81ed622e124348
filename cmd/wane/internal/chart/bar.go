package chart

import (
	"fmt"
	"strings"
)

// Bar is a level as a small bar for a table, with its interval and a tick at
// the threshold; it says nothing that the number beside it does not.
// from and to are the ends of its scale. A level that is not finite gives an
// empty string.
func Bar(level, lo, hi, threshold, from, to float64) string {
	if !finite(level) || !(from < to) {
		return ""
	}
	at := func(v float64) float64 { return 100 * min(max((v-from)/(to-from), 0), 1) }
	look := "over"
	if finite(threshold) && level <= threshold {
		look = "under"
	}
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="bar %s" viewBox="0 0 100 12" width="100" height="12" preserveAspectRatio="none" aria-hidden="true">`, look)
	fmt.Fprintf(&out, `<rect class="frame" x="0.5" y="1.5" width="99" height="9"/><rect class="fill" x="0.5" y="1.5" width="%.1f" height="9"/>`, max(0, at(level)-0.5))
	if finite(lo) && finite(hi) {
		fmt.Fprintf(&out, `<path class="interval" d="M%.1f 6H%.1f"/>`, at(lo), at(hi))
	}
	if finite(threshold) {
		fmt.Fprintf(&out, `<path class="threshold" d="M%.1f 0V12"/>`, at(threshold))
	}
	out.WriteString("</svg>")
	return out.String()
}
