package chart

import (
	"fmt"
	"html"
	"strings"
	"unicode"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// both draws a chart wide and narrow. size gives the height and the drawing
// for a width. Slim leaves the wide one out.
func both(id, title, desc string, slim bool, size func(w float64, narrow bool) (float64, func(draw.Canvas))) string {
	var out strings.Builder
	for _, v := range []struct {
		class  string
		width  float64
		narrow bool
	}{{"wide", wideWidth, false}, {"narrow", narrowWidth, true}} {
		if slim && !v.narrow {
			continue
		} else if slim {
			v.class = "only"
		}
		h, paint := size(v.width, v.narrow)
		name := id + "-" + v.class
		title, desc := html.EscapeString(clean(title)), html.EscapeString(clean(desc))
		fmt.Fprintf(&out, `<svg class="%s" viewBox="0 0 %g %g" role="img"`, v.class, v.width, h)
		if desc == "" {
			fmt.Fprintf(&out, `><title>%s</title>`, title)
		} else {
			fmt.Fprintf(&out, ` aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>`,
				name, name, name, title, name, desc)
		}
		out.WriteString(body(v.width, h, paint))
		out.WriteString("</svg>\n")
	}
	return out.String()
}

// Sizes of a key's sample.
const sampleWidth, sampleHeight = 36, 14

// sample draws a key's sample. It says nothing that its words do not.
func sample(t plot.Thumbnailer) string {
	return fmt.Sprintf(`<svg class="sample" viewBox="0 0 %d %d" width="%d" height="%d" aria-hidden="true">`, sampleWidth,
		sampleHeight, sampleWidth, sampleHeight) +
		body(sampleWidth, sampleHeight, func(c draw.Canvas) { t.Thumbnail(&c) }) + "</svg>"
}

// body gives a drawing without its outer element.
func body(w, h float64, paint func(draw.Canvas)) string {
	c := newCanvas(vg.Length(w), vg.Length(h))
	paint(draw.New(c))
	return c.body()
}

// clean takes out of a register's text what no line of writing can hold.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, s)
}

// Short cuts a name to so many letters, and takes out what no line can hold.
func Short(s string, n int) string { return short(s, n) }

// short cuts a name to so many letters.
func short(s string, n int) string {
	r := []rune(clean(s))
	if len(r) <= n {
		return string(r)
	}
	return string(r[:n-1]) + "\u2026"
}
