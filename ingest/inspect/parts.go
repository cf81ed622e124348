package inspect

import (
	"slices"
	"strconv"
	"strings"
)

// partWords head columns that hold one part of a stamp.
var partWords = map[byte][]string{
	'y': {"year", "yr", "yyyy", "jahr", "jaar", "annee", "année", "año", "ano", "anno"},
	'M': {"month", "mon", "mo", "mm", "monat", "maand", "mois", "mes", "mese"},
	'd': {"day", "dd", "dom", "tag", "dag", "jour", "dia", "día", "giorno"},
	'D': {"doy", "day of year", "dayofyear", "julian", "jday", "jd", "day_of_year"},
	'H': {"hour", "hr", "hh", "stunde", "uur", "heure", "hora", "ora"},
	'm': {"minute", "min", "mi", "minuut", "minuto"},
	's': {"second", "sec", "ss", "sekunde"},
	'W': {"week", "weeknr", "weeknumber", "kw", "woche", "kalenderwoche", "semaine", "semana", "settimana", "vecka", "uge",
		"uke", "viikko", "hafta"},
	'w': {"weekday", "dow", "day of week", "day of the week", "wochentag", "weekdag"},
	'Q': {"quarter", "viertel", "viertelstunde", "kwartier", "quart"},
	'f': {"ms", "msec", "millis", "millisecond", "milliseconds", "us", "usec", "microseconds", "ns", "nsec", "nanos",
		"nanoseconds"},
	'T': {"hhmm", "hrmin", "hrmn", "hour_minute"},
}

// partForms are the ways to write a stamp in columns, and the pattern of their
// cells joined by blanks.
var partForms = []struct{ parts, pattern string }{
	{"yMd", "yyyy M d"}, {"yMdH", "yyyy M d H"}, {"yMdT", "yyyy M d HHmm"}, {"yMdHm", "yyyy M d H m"},
	{"yMdHms", "yyyy M d H m s"},
	// In January a day of the month reads as one of the year: these must tell more than those above.
	{"yD", "yyyy DDD"}, {"yDH", "yyyy DDD H"}, {"yDT", "yyyy DDD HHmm"}, {"yDHm", "yyyy DDD H m"},
	{"yDHms", "yyyy DDD H m s"},
}

// whole is a column of whole numbers and their range.
type whole struct{ min, max, digits, distinct int }

// wholes gives the columns of whole numbers among the first ones.
func (t *table) wholes(lines []record) map[int]whole {
	out := map[int]whole{}
	for c := range min(t.width, lookWide) {
		w := whole{min: 1 << 30}
		seen := map[int]bool{}
		for _, r := range lines {
			n, err := strconv.Atoi(r.cells[c])
			if err != nil || len(r.cells[c]) > 5 || n < 0 {
				seen = nil
				break
			}
			w.min, w.max, w.digits = min(w.min, n), max(w.max, n), max(w.digits, len(r.cells[c]))
			seen[n] = true
		}
		if w.distinct = len(seen); w.distinct > 0 {
			out[c] = w
		}
	}
	return out
}

// may tells whether a column's range is that of a part.
func (w whole) may(part byte) bool {
	top := map[byte][2]int{'y': {1970, 2099}, 'M': {1, 12}, 'd': {1, 31}, 'D': {1, 366}, 'H': {0, 24}, 'm': {0, 59},
		's': {0, 60}, 'T': {0, 2400}, 'W': {1, 53}, 'w': {0, 7}, 'Q': {0, 4}, 'f': {0, 999999999}}[part]
	return w.min >= top[0] && w.max <= top[1]
}

// partNamed tells whether a column's name, wherever it stands above, is the word
// for a part.
func (t *table) partNamed(c int, part byte) bool {
	for r := range t.heads() {
		if !r.names(c) {
			continue
		}
		name := strings.Trim(r.cells[c], " #()[]_")
		if (name == "mm" || name == "MM") && slices.Contains(r.cells, "mm") && slices.Contains(r.cells, "MM") {
			return part == 'm' && name == "mm" || part == 'M' && name == "MM"
		}
		name = strings.ToLower(name)
		if slices.Contains(partWords[part], name) || part != 'M' && part != 'd' && hasWord(name, partWords[part]) &&
			!(part == 'y' && t.partNamed(c, 'D')) {
			return true
		}
	}
	return false
}

// dateInParts finds stamps whose year, month, day, hour … stand in columns of
// their own: by their names, or, under other names and without a header, by
// ranges and by moments that go on from line to line.
func (t *table) dateInParts(lines []record, have []candidate) (out []candidate) {
	if len(lines) == 0 {
		return nil
	}
	cols := t.wholes(lines)
	named := map[byte]int{}
	for part := range partWords {
		for c := range t.width {
			if w, ok := cols[c]; ok && w.may(part) && t.partNamed(c, part) {
				named[part] = c
				break
			}
		}
	}
	all, lines := lines, spread(lines, 150)
	years := 0
	for c := range t.width {
		w, ok := cols[c]
		if !ok || years == fewColumns || !w.may('y') || w.digits != 4 || w.distinct > 1+len(lines)/20 {
			continue
		}
		years++
		var best candidate
		for _, f := range partForms {
			t.fill(lines, cols, named, f.parts, f.pattern, []int{c}, &best)
		}
		if best.cols != nil {
			out = append(out, t.withClock(all, best))
		}
	}
	dates := 0
	for _, date := range have { // a date in one column, its hours and minutes in others
		if date.clock || len(date.cols) > 1 || dates == fewColumns {
			continue
		}
		dates++
		best := candidate{distinct: date.distinct}
		for _, form := range []struct{ parts, pattern string }{{"xT", " HHmm"}, {"xH", " H"}, {"xHm", " H m"},
			{"xHms", " H m s"}} {
			t.fill(lines, cols, named, form.parts, form.pattern, date.cols, &best, date.shapes...)
		}
		if best.cols != nil {
			t.follow(&best, t.stampsOf(all, best.cols))
			out = append(out, best)
		}
	}
	return out
}

// withClock adds a time of day that stands in a column of its own to a date in
// parts.
func (t *table) withClock(lines []record, date candidate) candidate {
	t.follow(&date, t.stampsOf(lines, date.cols))
	if date.clock {
		return date
	}
	const day = "2000-01-01 "
	for c := range min(t.width, lookWide) {
		if slices.Contains(date.cols, c) || !t.mayBeClock(lines, c) {
			continue
		}
		for _, s := range shapesOf(day+lines[len(lines)-1].cells[c], true) {
			clock, ok := strings.CutPrefix(s.pattern, "yyyy-MM-dd ")
			k, fits := t.rateParts(lines, append(slices.Clone(date.cols), c), date.shapes[0].pattern+" "+clock, nil)
			if k.clock = s.clock; ok && fits && k.distinct > date.distinct {
				return k
			}
		}
	}
	return date
}

// reach is how many columns further on the next part may stand.
const reach = 4

// fill tries columns for the parts that are still to be found, and keeps the
// candidate that tells most moments with the fewest parts.
func (t *table) fill(lines []record, cols map[int]whole, named map[byte]int, parts, pattern string, got []int,
	best *candidate, dates ...shape) {
	if len(got) == len(parts) {
		if k, ok := t.rateParts(lines, got, pattern, dates); ok &&
			(20*k.distinct > 21*best.distinct || best.cols != nil && k.distinct >= best.distinct && len(dates) == 0 &&
				best.shapes[0].pattern == pattern && sum(got) > sum(best.cols)) {
			*best = k
		}
		return
	}
	part := parts[len(got)]
	if c, ok := named[part]; ok && !slices.Contains(got, c) {
		t.fill(lines, cols, named, parts, pattern, append(slices.Clone(got), c), best, dates...)
		return
	}
	last := slices.Max(got)
	for c := last + 1; c <= last+reach; c++ {
		w, ok := cols[c]
		if !ok || !w.may(part) || part == 'm' && w.min > 0 && w.max < 5 || t.otherPart(c, part, named) || len(dates) > 0 &&
			part != 'T' && len(got) == 1 || part == 'T' && w.max < 100 {
			continue // an hour beside a date is one by its name only: numbers of sensors look alike
		}
		t.fill(lines, cols, named, parts, pattern, append(slices.Clone(got), c), best, dates...)
	}
}

// otherPart tells whether a column is named for something else. A day beside no
// month is the day of the year.
func (t *table) otherPart(c int, part byte, named map[byte]int) bool {
	_, month := named['M']
	for other := range partWords {
		if other != part && t.partNamed(c, other) && !(part == 'D' && other == 'd' && !month) {
			return true
		}
	}
	for r := range t.heads() {
		if r.names(c) && part != 'T' && (quantityOf(r.cells[c]).id != "" || roleOf(r.cells[c]) != "") {
			return true
		}
	}
	return false
}

func sum(list []int) (n int) {
	for _, v := range list {
		n += v
	}
	return n
}

// rateParts counts the moments that parts tell: nearly every line must read, and
// nearly every step go the same way.
func (t *table) rateParts(lines []record, cols []int, pattern string, dates []shape) (k candidate, ok bool) {
	k = candidate{cols: cols, named: true, clock: strings.Contains(pattern, "H")}
	stamps := t.stampsOf(lines, cols)
	shapes := []shape{{pattern: pattern}}
	if len(dates) > 0 {
		shapes = nil
		for _, d := range dates {
			shapes = append(shapes, shape{pattern: d.pattern + pattern, order: d.order})
		}
	}
	for _, s := range shapes {
		if s.n = countFits(s.pattern, stamps); 5*s.n >= 4*len(lines) {
			s.clock = k.clock
			k.shapes = append(k.shapes, s)
			k.n = max(k.n, s.n)
		}
	}
	if len(k.shapes) == 0 {
		return k, false
	}
	t.follow(&k, stamps)
	return k, k.distinct > 1 && 10*k.forward >= 9*(k.distinct-1)
}
