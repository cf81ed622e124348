package inspect

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"wane/ingest/decode/stamp"
)

// pattern is a time format to try.
type pattern struct {
	text   string
	format *stamp.Format
}

func compiled(text string) (pattern, bool) {
	f, err := stamp.Compile(text)
	return pattern{text, f}, err == nil
}

// plausible bounds what a stamp may say, to keep numbers from reading as times.
var (
	earliest = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	latest   = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	epochMin = time.Date(1995, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
)

// fits tells whether a stamp reads by a pattern, and what its clock shows.
func (p pattern) fits(cell string) (local int64, ok bool) {
	m, err := stamp.NewParser(p.format, stamp.UTC).Parse([]byte(cell))
	if err != nil || m.Local < earliest || m.Local >= latest || p.format.Form != stamp.Calendar && m.Local < epochMin {
		return 0, false
	}
	return m.Local, true
}

// utc is the moment of a stamp that says it by itself, in seconds.
func (p pattern) utc(stampText string) int64 {
	m, _ := stamp.NewParser(p.format, stamp.UTC).Parse([]byte(stampText))
	return m.UTC / 1e6
}

// intervalTail is a clock, a dash and another clock.
var intervalTail = regexp.MustCompile(`\d:\d{2}(?::\d{2})?-(\d{1,2}:\d{2})`)

// fitting gives the shapes that read most of some stamps, and how many they read.
func fitting(stamps []string) (fit []shape, best int) {
	if len(stamps) == 0 {
		return nil, 0
	}
	tails := map[string]bool{}
	for _, s := range stamps {
		if m := intervalTail.FindStringSubmatch(s); m != nil {
			tails[m[1]] = true
		}
	}
	var shapes []shape
	for i := range 16 { // spread, the last one first: it is data for certain
		at := len(stamps) - 1 - i*len(stamps)/16
		for _, s := range shapesOf(stamps[at], len(tails) > 3) {
			if !slices.ContainsFunc(shapes, func(o shape) bool { return o.pattern == s.pattern }) {
				shapes = append(shapes, s)
			}
		}
	}
	if len(shapes) > 40 {
		shapes = shapes[:40]
	}
	shapes = append(shapes, merged(shapes)...)
	counts := make([]int, len(shapes))
	for i, s := range shapes {
		p, ok := compiled(s.pattern)
		if !ok {
			continue
		}
		n, first := 0, -1
		for k, s := range stamps {
			if _, ok := p.fits(s); ok {
				n++
				if first < 0 {
					first = k
				}
			}
		}
		// Headers stand above the first one that reads; below it most must.
		if first >= 0 && float64(n) >= needed*float64(len(stamps)-first) {
			counts[i] = n
			best = max(best, n)
		}
	}
	best = preferZones(shapes, counts, best)
	for i, s := range shapes {
		// Another order of the date may read less by damage alone: the whole file decides.
		if counts[i] > 0 && (counts[i] == best || s.order != "" && 100*counts[i] >= 97*best) {
			s.n = counts[i]
			fit = append(fit, s)
		}
	}
	slices.SortStableFunc(fit, func(a, b shape) int { return b.n - a.n })
	return fit, best
}

// preferZones leaves out shapes that pass over any word behind the clock where
// nearly all of these words are zones.
func preferZones(shapes []shape, counts []int, best int) int {
	zoned := 0
	for i, s := range shapes {
		if strings.HasSuffix(s.pattern, " z") || strings.HasSuffix(s.pattern, " XXX") {
			zoned = max(zoned, counts[i])
		}
	}
	if zoned == 0 || 5*zoned < 4*best {
		return best
	}
	for i, s := range shapes {
		if strings.HasSuffix(s.pattern, " *") {
			counts[i] = 0
		}
	}
	return slices.Max(counts)
}

// merged gives patterns of which a part is optional, where shapes differ in it: a
// fraction, seconds, or the time of day, which some spreadsheets leave out at
// midnight.
func merged(shapes []shape) (out []shape) {
	for _, a := range shapes {
		for _, b := range shapes {
			rest, ok := strings.CutPrefix(b.pattern, a.pattern)
			if ok && rest != "" && !strings.ContainsAny(rest, "'*") && strings.IndexFunc(rest[:1], isLetterRune) < 0 {
				out = append(out, shape{pattern: a.pattern + "[" + rest + "]", order: b.order, clock: b.clock})
			}
			if before, offset := strings.CutSuffix(b.pattern, "XXX"); offset && strings.HasSuffix(a.pattern, "XXX") {
				plain := strings.TrimSuffix(a.pattern, "XXX")
				if rest, ok := strings.CutPrefix(before, plain); ok && rest != "" && strings.IndexFunc(rest[:1], isLetterRune) < 0 {
					out = append(out, shape{pattern: plain + "[" + rest + "]XXX", order: b.order, clock: b.clock})
				}
			}
		}
	}
	for _, s := range shapes { // one digit or two
		for _, parts := range [][]string{twoDigits, append([]string{"mm", "ss"}, twoDigits...)} {
			if lax := loosen(s.pattern, parts...); lax != s.pattern {
				out = append(out, shape{pattern: lax, order: s.order, clock: s.clock})
			}
		}
	}
	return out[:min(len(out), 60)]
}

func isLetterRune(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }

// twoDigits are the parts of a stamp that may be written with a zero before one digit.
var twoDigits = []string{"dd", "MM", "HH", "hh"}

// loosen turns parts of two digits into ones of one or two.
func loosen(text string, parts ...string) string {
	if strings.Contains(text, "yyyyMMdd") || strings.Contains(text, "ddMM") || strings.Contains(text, "MMdd") ||
		strings.HasPrefix(text, "yyyy") {
		return text // year first is the padded kind in practice; 2026-1-5 does not fit it and picks the other
	}
	pairs := []string{"MMM", "MMM", "HHmm", "HHmm"}
	for _, p := range parts {
		pairs = append(pairs, p, p[:1])
	}
	lax := strings.NewReplacer(pairs...)
	words := strings.Split(text, "'")
	for i := 0; i < len(words); i += 2 { // those between quotes are words, not parts of the time
		words[i] = lax.Replace(words[i])
	}
	return strings.Join(words, "'")
}

func epochWords(p pattern, s string) string {
	local, _ := p.fits(s)
	return time.Unix(local, 0).UTC().Format(time.RFC3339)
}
