package chart

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strings"
	"unicode"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// both draws a chart wide and narrow. size gives the height and the drawing
// for a width.
func both(id, title, desc string, size func(w float64, narrow bool) (float64, func(draw.Canvas))) string {
	var out strings.Builder
	for _, v := range []struct {
		class  string
		width  float64
		narrow bool
	}{{"wide", wideWidth, false}, {"narrow", narrowWidth, true}} {
		h, paint := size(v.width, v.narrow)
		name := id + "-" + v.class
		fmt.Fprintf(&out, `<svg class="%s" viewBox="0 0 %g %g" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>`,
			v.class, v.width, h, name, name, name, html.EscapeString(clean(title)), name, html.EscapeString(clean(desc)))
		out.WriteString(body(v.width, h, paint))
		out.WriteString("</svg>\n")
	}
	return out.String()
}

// Sizes of a key's sample.
const sampleWidth, sampleHeight = 36, 14

// sample draws a key's sample. It says nothing that its words do not.
func sample(t plot.Thumbnailer) string {
	return fmt.Sprintf(`<svg class="sample" viewBox="0 0 %d %d" width="%d" height="%d" aria-hidden="true">`, sampleWidth, sampleHeight, sampleWidth, sampleHeight) +
		body(sampleWidth, sampleHeight, func(c draw.Canvas) { t.Thumbnail(&c) }) + "</svg>"
}

var (
	inText  = regexp.MustCompile(`\s+style="font-family:[^;"]*;font-variant:[^;"]*;font-weight:([^;"]*);font-style:[^;"]*;font-size:([0-9.]+)px(?:;fill:([^;"]*))?"`)
	inStyle = regexp.MustCompile(`\s+style="([^"]*)"`)
	closing = regexp.MustCompile(`</svg>\s*$`)
)

// body gives a drawing without its outer element, its writing without a named
// face, which the page's style sheet gives.
func body(w, h float64, paint func(draw.Canvas)) string {
	canvas := vgsvg.New(vg.Length(w), vg.Length(h))
	paint(draw.New(canvas))
	var buf bytes.Buffer
	if _, err := canvas.WriteTo(&buf); err != nil {
		panic("chart: a buffer in memory refused bytes: " + err.Error())
	}
	s := buf.String()
	s = s[strings.Index(s, "<g"):]
	s = closing.ReplaceAllString(s, "")
	s = inText.ReplaceAllStringFunc(s, func(m string) string {
		part := inText.FindStringSubmatch(m)
		out := ` font-size="` + part[2] + `"`
		if part[1] != "normal" {
			out += ` font-weight="bold"`
		}
		if part[3] != "" {
			out += ` fill="` + part[3] + `"`
		}
		return out
	})
	s = inStyle.ReplaceAllStringFunc(s, func(m string) string { return asAttributes(inStyle.FindStringSubmatch(m)[1]) })
	return strings.ReplaceAll(s, " />", "/>")
}

// asAttributes says as attributes of an SVG element what stood in its style, so
// that a page may forbid styles but its own.
func asAttributes(style string) string {
	var out strings.Builder
	for one := range strings.SplitSeq(style, ";") {
		if name, value, ok := strings.Cut(one, ":"); ok {
			fmt.Fprintf(&out, ` %s="%s"`, strings.TrimSpace(name), strings.TrimSpace(value))
		}
	}
	return out.String()
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

// short cuts a name to so many letters.
func short(s string, n int) string {
	r := []rune(clean(s))
	if len(r) <= n {
		return string(r)
	}
	return string(r[:n-1]) + "\u2026"
}
