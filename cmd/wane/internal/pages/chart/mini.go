package chart

import (
	"fmt"
	"strings"

	"wane/transform/estimate"
)

// Mini is a decline small enough to stand among many: readings as dots, the lamp
// alone as a band, the threshold as a line, all on the scales of its neighbours. It
// says nothing that the words beside it do not.
type Mini struct {
	Band      []Span
	Dots      []Point
	Threshold float64
	X1        float64 // run-hours at the right edge; the left is 0
	Y0, Y1    float64 // levels at the lower and the upper edge
	Tone      Tone
}

// SVG draws it.
func (m Mini) SVG() string {
	const w, h = 160, 70
	if !(m.X1 > 0) || !(m.Y0 < m.Y1) {
		return ""
	}
	at := func(x, y float64) string {
		y = min(max(y, m.Y0), m.Y1)
		return pair(int(10*w*min(x/m.X1, 1)), int(10*h*(m.Y1-y)/(m.Y1-m.Y0)))
	}
	n := tones[m.Tone]
	tone := fmt.Sprintf("#%02x%02x%02x", n.R, n.G, n.B)
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="mini" viewBox="0 0 %d %d" width="%d" height="%d" aria-hidden="true"><path d="M0 0v%dh%d" fill="none" stroke="#6b6b6b"/>`, w, h, w, h, h, w)
	if estimate.Finite(m.Threshold) {
		fmt.Fprintf(&out, `<path d="M%sH%d" stroke="#b84600" stroke-dasharray="6 3"/>`, at(0, m.Threshold), w)
	}
	var upper, lower []string
	for _, s := range m.Band {
		if estimate.Finite(s.X) && estimate.Finite(s.Lo) && estimate.Finite(s.Hi) {
			upper = append(upper, at(s.X, s.Hi))
			lower = append([]string{at(s.X, s.Lo)}, lower...)
		}
	}
	if len(upper) > 1 {
		fmt.Fprintf(&out, `<path d="M%sz" fill="%s" fill-opacity=".25" stroke="%s" stroke-width=".8"/>`,
			strings.Join(append(upper, lower...), "L"), tone, tone)
	}
	var dots strings.Builder
	for _, d := range m.Dots {
		if estimate.Finite(d.X) && estimate.Finite(d.Y) {
			fmt.Fprintf(&dots, "M%sh0", at(d.X, d.Y))
		}
	}
	if dots.Len() > 0 {
		fmt.Fprintf(&out, `<path d="%s" fill="none" stroke="#1a1a1a" stroke-width="1.6" stroke-linecap="round"/>`,
			dots.String())
	}
	out.WriteString("</svg>")
	return out.String()
}
