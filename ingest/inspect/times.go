package inspect

import (
	"iter"
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

const (
	needed     = 0.6 // the share of stamps below the header that must read: footers and damage are the rest
	lookLines  = 400 // lines that a stamp is looked for in
	lookWide   = 60  // columns
	fewColumns = 4   // columns that may be the date, where others must be tried beside each
)

// clockText is a cell that may be a time of day beside a date.
var clockText = regexp.MustCompile(`^\d{1,2}[:.h]\d{2}|^\d{1,4}(\.0+)?$|^\d{1,2}\s*-\s*\d{1,2}$|` +
	`\d\s*[aApP]\.?\s?[mM]|^\d{6}$`)

// findTime finds the columns and the pattern of the stamp.
func (t *table) findTime() error {
	lines := t.dataLines()
	var all []candidate
	for c := range min(t.width, lookWide) {
		if k, ok := t.rate(lines, c); ok {
			all = append(all, k)
		}
	}
	dates := 0
	for _, date := range slices.Clone(all) {
		if date.clock || dates == fewColumns {
			continue
		}
		dates++
		for c := range min(t.width, lookWide) {
			if c != date.cols[0] && t.mayBeClock(lines, c) {
				// a bare number that tells no more moments than the date alone is no clock
				if k, ok := t.rate(lines, date.cols[0], c); ok && k.clock && (k.distinct > date.distinct ||
					!isDigitText(lines[len(lines)-1].cells[c])) {
					all = append(all, k)
				}
			}
		}
	}
	all = append(all, t.withHalves(lines, all)...)
	all = append(all, t.dateInParts(lines, all)...)
	best, ok := bestOf(all)
	if !ok {
		return t.noTime(lines)
	}
	best = t.withZone(lines, best)
	t.times = best.cols
	t.choose(best)
	t.markStamps()
	return nil
}

// withHalves adds a column of AM and PM to stamps whose clock has no half of its
// own.
func (t *table) withHalves(lines []record, all []candidate) (out []candidate) {
	for c := range min(t.width, lookWide) {
		n, of := 0, 0
		for _, r := range lines {
			if r.cells[c] != "" {
				of++
				if isHalf(token{'w', r.cells[c]}, token{}) > 0 {
					n++
				}
			}
		}
		if of == 0 || 10*n < 9*of {
			continue
		}
		for _, k := range all {
			if k.clock && !k.digits && !slices.Contains(k.cols, c) {
				if with, ok := t.rate(lines, append(slices.Clone(k.cols), c)...); ok && with.distinct > k.distinct {
					out = append(out, with)
				}
			}
		}
	}
	return out
}

// withZone adds a column of offsets or of zones' abbreviations to a stamp that says neither: it
// is what the stamps of these lines are in, whatever clock is set elsewhere.
func (t *table) withZone(lines []record, k candidate) candidate {
	if p, ok := compiled(k.shapes[0].pattern); !ok || p.format.OwnMoment() || !k.clock {
		return k
	}
	zones := t.zoneColumns(lines)
	for _, c := range zones {
		if slices.Contains(k.cols, c) || t.zonesDiffer(lines, zones) {
			continue
		}
		if with, ok := t.rate(lines, append(slices.Clone(k.cols), c)...); ok && 100*with.n >= 97*k.n {
			if p, ok := compiled(with.shapes[0].pattern); ok && p.format.OwnMoment() {
				return with
			}
		}
	}
	return k
}

// zoneColumns are those that hold offsets or zones' abbreviations.
func (t *table) zoneColumns(lines []record) (out []int) {
	for c := range min(t.width, lookWide) {
		n, of := 0, 0
		for _, r := range lines {
			if cell := r.cells[c]; cell != "" {
				of++
				if stamp.IsZoneWord(cell) || offsetCell.MatchString(cell) {
					n++
				}
			}
		}
		if of > 0 && 10*n >= 9*of {
			out = append(out, c)
		}
	}
	return out
}

// zonesDiffer tells whether columns of zones say different ones on one line, such as those of winter and of summer: then none
// is what the stamps are in.
func (t *table) zonesDiffer(lines []record, zones []int) bool {
	for _, r := range lines {
		was, have := int64(0), false
		for _, c := range zones {
			off, ok := zoneSays(r.cells[c])
			if ok && have && off != was {
				return true
			}
			was, have = off, have || ok
		}
	}
	return false
}

// zoneSays gives the seconds of an offset or of a zone's abbreviation.
func zoneSays(cell string) (int64, bool) {
	if off, ok := stamp.ParseOffset(cell); ok {
		return int64(off), true
	}
	return stamp.ZoneOffset(cell)
}

// offsetCell is an offset that cannot be a number.
var offsetCell = regexp.MustCompile(`^(UTC|GMT)?[+-]\d{2}:?\d{2}$`)

// dataLines are lines as wide as most that hold something like a number.
func (t *table) dataLines() []record {
	var lines []record
	for _, r := range t.recs {
		if len(r.cells) == t.width {
			lines = append(lines, r)
		}
	}
	for len(lines) > 1 && !slices.ContainsFunc(lines[0].cells,
		func(c string) bool { return c != "" && (isDigit(c[0]) || c[0] == '-') }) {
		lines = lines[1:]
	}
	return spread(lines, lookLines)
}

// spread takes some lines of the beginning, the middle and the end, each as they
// follow each other.
func spread(lines []record, most int) []record {
	if len(lines) <= most {
		return lines
	}
	third := most / 3
	middle := (len(lines) - third) / 2
	return slices.Concat(lines[:third], lines[middle:middle+third], lines[len(lines)-third:])
}

// candidate is a set of columns that may be the stamp.
type candidate struct {
	cols     []int
	shapes   []shape // that read most stamps, in equal number
	n        int     // stamps that read
	distinct int     // different moments
	forward  int     // steps from one line to the next in the direction that most take
	clock    bool
	named    bool // its first column is named for a time
	carried  bool // and for when the line was handed on
	digits   bool
}

// bestOf picks the candidate that tells most moments, then the fuller stamp.
func bestOf(all []candidate) (candidate, bool) {
	most, read := 0, 0
	for _, k := range all {
		most, read = max(most, k.distinct), max(read, k.n)
	}
	sound := func(k candidate) bool { // a bare number is a time by its name, or by its order
		return k.named || !k.digits || 10*k.forward >= 9*(k.distinct-1) && k.distinct > 1
	}
	rank := func(k candidate) [8]int {
		var r [8]int
		if sound(k) {
			r[0] = 1
		}
		if 2*k.distinct >= most {
			r[1] = 1
		}
		if k.clock {
			r[2] = 1
		}
		if k.named || !k.digits {
			r[3] = 1
		}
		if 10*k.distinct >= 11*most/2 && strings.Contains(k.shapes[0].pattern, "a") && len(k.cols) > 2 {
			r[4] = 1 // the half of the day belongs to it
		}
		if !k.carried {
			r[5] = 1
		}
		if 20*k.n >= 19*read { // a counter beside a date reads as hours and minutes now and then
			r[6] = 1
		}
		r[7] = -len(k.cols)
		return r
	}
	best := -1
	for i, k := range all {
		if best < 0 {
			best = i
			continue
		}
		a, b := rank(k), rank(all[best])
		if slices.Compare(a[:], b[:]) > 0 {
			best = i
		}
	}
	if best < 0 || !sound(all[best]) {
		return candidate{}, false
	}
	for i, k := range all { // a column that parts more moments belongs to the stamp
		if sound(k) && 20*k.distinct > 21*all[best].distinct && k.clock && hasAll(k.cols, all[best].cols) {
			best = i
		}
	}
	return all[best], true
}

func hasAll(cols, of []int) bool {
	return !slices.ContainsFunc(of, func(c int) bool { return !slices.Contains(cols, c) })
}

// rate looks at columns as a stamp: ok is false where most lines do not read.
func (t *table) rate(lines []record, cols ...int) (k candidate, ok bool) {
	stamps := slices.DeleteFunc(t.stampsOf(lines, cols),
		func(s string) bool { return !strings.ContainsAny(s, "0123456789") }) // headers again
	fit, n := fitting(stamps)
	if n == 0 {
		return k, false
	}
	k = candidate{cols: cols, shapes: fit, n: n, clock: fit[0].clock, digits: fit[0].digits || len(cols) > 1 &&
		isDigitText(stamps[len(stamps)-1])}
	k.named = t.namedAsTime(cols[0])
	for r := range t.heads() {
		k.carried = k.carried || r.names(cols[0]) && hasWord(r.cells[cols[0]], carried)
	}
	t.follow(&k, stamps)
	return k, true
}

// follow counts the moments of a candidate and how they go on.
func (t *table) follow(k *candidate, stamps []string) {
	p, ok := compiled(k.shapes[0].pattern)
	if !ok {
		return
	}
	seen := map[int64]bool{}
	up, down := 0, 0
	var last int64
	for _, s := range stamps {
		at, ok := p.fits(s)
		if !ok {
			continue
		}
		if len(seen) > 0 && at > last {
			up++
		} else if len(seen) > 0 && at < last {
			down++
		}
		last = at
		seen[at] = true
	}
	k.distinct, k.forward = len(seen), max(up, down)
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
		if lax := loosen(s.pattern, twoDigits...); lax != s.pattern {
			out = append(out, shape{pattern: lax, order: s.order, clock: s.clock})
		}
	}
	return out[:min(len(out), 60)]
}

func isLetterRune(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }

// mayBeClock tells whether a column may hold a time of day.
func (t *table) mayBeClock(lines []record, c int) bool {
	n, of, numbers := 0, 0, 0
	for _, r := range lines[max(0, len(lines)-40):] {
		if r.cells[c] == "" {
			continue
		}
		of++
		if clockText.MatchString(r.cells[c]) {
			n++
		}
		if isDigitText(r.cells[c]) {
			numbers++
		}
	}
	// Small numbers are many things: only a name makes a clock of them.
	return of > 0 && 10*n >= 9*of && (2*numbers < of || t.namedAsTime(c))
}

// namedAsTime tells whether a column's name, wherever it stands above, is a word
// for time.
func (t *table) namedAsTime(c int) bool {
	for r := range t.heads() {
		if r.names(c) && isTimeWord(r.cells[c]) {
			return true
		}
	}
	return false
}

// names tells whether a line may name a column: no number does, nor a sentence.
func (r record) names(c int) bool {
	cell := r.cell(c)
	return cell != "" && len(cell) < 40 && !isDigitText(cell)
}

// heads are the first lines that are wide enough to hold names of columns, which titles and legends above them are not.
func (t *table) heads() iter.Seq[record] {
	return func(yield func(record) bool) {
		n := 0
		for _, r := range t.recs {
			if 2*len(r.cells) <= t.width {
				continue
			}
			if n++; n > 40 || !yield(r) {
				return
			}
		}
	}
}

func isDigitText(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// stampsOf joins the stamp's cells of each line.
func (t *table) stampsOf(lines []record, cols []int) []string {
	var out []string
	for _, r := range lines {
		if s, ok := stampOf(r.cells, cols); ok {
			out = append(out, s)
		}
	}
	return out
}

// stampOf joins the stamp's cells of a line as the decoder does.
func stampOf(cells []string, cols []int) (string, bool) {
	if len(cols) == 1 {
		if cols[0] >= len(cells) {
			return "", false
		}
		return cells[cols[0]], cells[cols[0]] != ""
	}
	parts := make([]string, len(cols))
	for i, c := range cols {
		if c >= len(cells) || cells[c] == "" {
			return "", false
		}
		parts[i] = cells[c]
	}
	return strings.Join(parts, " "), true
}

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

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// markStamps notes which records have a stamp that reads.
func (t *table) markStamps() {
	var ps []pattern
	for _, text := range append([]string{t.format}, t.byOrder...) {
		if p, ok := compiled(text); text != "" && ok {
			ps = append(ps, p)
		}
	}
	t.stamped = make([]bool, len(t.recs))
	for i, r := range t.recs {
		s, ok := stampOf(r.cells, t.times)
		for _, p := range ps {
			if ok && !t.stamped[i] {
				_, t.stamped[i] = p.fits(s)
			}
		}
	}
}

func epochWords(p pattern, s string) string {
	local, _ := p.fits(s)
	return time.Unix(local, 0).UTC().Format(time.RFC3339)
}
