package inspect

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"wane/ingest/decode/stamp"
)

// orders are the ways to write a date in digits.
var orders = []string{"dmy", "mdy", "ymd"}

var orderWords = map[string]string{"dmy": "day first", "mdy": "month first", "ymd": "year first"}

// choose settles on one pattern of those that read equally many stamps of the
// sample, by the whole file, or leaves the order of the date open.
func (t *table) choose(k candidate) {
	stamps := t.allStamps(k.cols)
	k.shapes = widened(k.shapes, stamps)
	by := map[string]shape{}
	for _, order := range append([]string{""}, orders...) {
		if s, ok := pick(k.shapes, order, stamps); ok {
			by[order] = s
		}
	}
	last := t.lastStamp(k, stamps)
	f := Finding{What: "time format", Sure: Certain, Evidence: "stamps such as " + last}
	if s, ok := by[""]; ok {
		if other, ok := t.otherDigits(k, s, stamps); ok {
			t.byOrder = []string{s.pattern, other}
			f.Sure, f.Evidence = Asked, f.Evidence+"; its digits can be read as "+s.pattern+" and as "+other
			t.report.add(f)
			t.ask("time", fmt.Sprintf("is %s written %s or %s?", last, s.pattern, other), "format: "+s.pattern, "format: "+other)
			return
		}
		f.Value, t.format = s.pattern, s.pattern
		if s.digits && !strings.Contains(s.pattern, "yyyy") {
			if p, ok := compiled(s.pattern); ok {
				f.Evidence += ", which is " + epochWords(p, last)
			}
		}
		if strings.Contains(s.pattern, "*") {
			f.Evidence += "; the beginning of each interval is taken"
			f.Sure = Likely
		}
		t.report.add(f)
		return
	}
	order, why := t.orderOf(by, stamps)
	if order != "" {
		f.Value, t.format, t.order = by[order].pattern, by[order].pattern, order
		f.Evidence += "; " + orderWords[order] + ": " + why
		t.report.add(f)
		if n, example := swapped(t.format, stamps); n > 1 {
			t.ask("time.format", fmt.Sprintf("%d dates, such as %s, follow those before them only if their day and "+
				"month change "+
				"places, and others only if they do not: a spreadsheet may have turned some round; export again", n, example))
		}
		return
	}
	var choices, words []string
	for _, o := range orders {
		if s, ok := by[o]; ok {
			t.byOrder = append(t.byOrder, s.pattern)
			choices, words = append(choices, s.pattern), append(words, orderWords[o])
		}
	}
	f.Sure, f.Evidence = Asked, f.Evidence+"; "+why
	t.report.add(f)
	t.ask("time.format", fmt.Sprintf("is %s written %s?", last, strings.Join(words, " or ")), choices...)
}

// swapped counts the dates of a file of one row a day or more that leap over weeks, and would
// follow at once those before them if day and month changed places.
func swapped(pattern string, stamps []string) (n int, example string) {
	turned := strings.NewReplacer("MMM", "MMM", "dd", "MM", "MM", "dd", "d", "M", "M", "d").Replace(pattern)
	own, ok := compiled(pattern)
	other, also := compiled(turned)
	if !ok || !also || strings.Contains(pattern, "'") {
		return 0, ""
	}
	const day = 86400
	near := func(a, b int64) bool { return max(a-b, b-a) <= 2*day }
	steps, close := 0, 0
	var last, lastTurned int64
	for i, s := range stamps {
		at, fits := own.fits(s)
		if !fits {
			continue
		}
		back, fits := other.fits(s)
		if !fits {
			back = at
		}
		if i > 0 && last != 0 {
			steps++
			switch {
			case near(at, last):
				close++
			case near(back, last) || near(at, lastTurned) || near(back, lastTurned):
				n++
				example = s
			}
		}
		last, lastTurned = at, back
	}
	if 2*close < steps {
		return 0, ""
	}
	return n, example
}

// otherDigits gives another way in which all digits of the file read as moments: counted
// seconds have months and days in them by chance, but not on every line of a long file.
func (t *table) otherDigits(k candidate, s shape, stamps []string) (pattern string, ok bool) {
	if !s.digits || s.pattern == "yyyyMMddHH" { // as seconds its digits are of the 2030s
		return "", false
	}
	n := countFits(s.pattern, stamps)
	for _, o := range append(slices.Clone(k.shapes), digitShapes(stamps[len(stamps)-1])...) {
		if o.pattern != s.pattern && o.order == "" && o.digits && o.pattern != "yyyyMMddHH" &&
			!strings.Contains(o.pattern, "'") && countFits(o.pattern, stamps) == n {
			return o.pattern, true
		}
	}
	return "", false
}

// widened adds shapes with an optional part where some stamps of the file are
// written shorter or longer than those that the shapes were derived from.
func widened(shapes []shape, stamps []string) []shape {
	ps := make([]*stamp.Parser, 0, len(shapes))
	for _, s := range shapes {
		if p, ok := compiled(s.pattern); ok {
			ps = append(ps, stamp.NewParser(p.format, stamp.UTC))
		}
	}
	var more []shape
	for _, s := range stamps {
		if slices.ContainsFunc(ps, func(p *stamp.Parser) bool { _, bad := p.Parse([]byte(s)); return bad == nil }) {
			continue
		}
		for _, sh := range shapesOf(s, true) {
			if !slices.ContainsFunc(more, func(o shape) bool { return o.pattern == sh.pattern }) {
				more = append(more, sh)
			}
		}
		if len(more) > 12 {
			break
		}
	}
	if len(more) == 0 {
		return shapes
	}
	have := shapes[0].n
	for _, s := range merged(append(slices.Clone(shapes), more...)) {
		if s.n = countFits(s.pattern, stamps); s.n > have && strings.Contains(s.pattern, "[") {
			shapes = append([]shape{s}, shapes...)
		}
	}
	return shapes
}

// pick gives one shape of an order: padded digits where the file pads.
func pick(shapes []shape, order string, stamps []string) (shape, bool) {
	var own []shape
	for _, s := range shapes {
		if s.order == order {
			own = append(own, s)
		}
	}
	if len(own) == 0 {
		return shape{}, false
	}
	own = own[:min(len(own), 8)]
	for i := range own {
		own[i].n = countFits(own[i].pattern, stamps)
	}
	slices.SortStableFunc(own, func(a, b shape) int { // the one that reads most, then the stricter spelling: it says more
		return cmp.Or(cmp.Compare(b.n, a.n), cmp.Compare(len(b.pattern), len(a.pattern)))
	})
	own[0].pattern = unpadded(own[0].pattern, stamps)
	return own[0], true
}

// unpadded asks for no zero before a day, month or hour of one digit where no stamp shows one:
// next month's may have none. What is asked for one digit reads two as well.
func unpadded(pattern string, stamps []string) string {
	p, ok := compiled(pattern)
	if !ok {
		return pattern
	}
	seen := map[string]bool{}
	for local := range p.clocks(stamps) {
		at := time.Unix(local, 0).UTC()
		half := at.Hour()%12 > 0 && at.Hour()%12 < 10
		seen["dd"] = seen["dd"] || at.Day() < 10
		seen["MM"] = seen["MM"] || at.Month() < 10
		seen["HH"] = seen["HH"] || at.Hour() < 10
		seen["hh"] = seen["hh"] || half
	}
	var free []string
	for _, part := range twoDigits {
		if !seen[part] {
			free = append(free, part)
		}
	}
	return loosen(pattern, free...)
}

// orderOf decides the order of the date by the answer, by dates that only one
// order has, or by how the moments go on; "" where neither tells.
func (t *table) orderOf(by map[string]shape, stamps []string) (order, why string) {
	if _, ok := by[t.answers.Order]; ok {
		return t.answers.Order, "as answered"
	}
	reads := map[string]int{}
	most := 0
	for o, s := range by {
		reads[o] = countFits(s.pattern, stamps)
		most = max(most, reads[o])
	}
	var left []string
	for _, o := range orders {
		if _, ok := by[o]; ok && (most-reads[o] == 0 || 200*(most-reads[o]) < most) { // a damaged stamp or two decide nothing
			left = append(left, o)
		}
	}
	if len(left) == 1 {
		if len(by) == 1 {
			return left[0], "no other order reads"
		}
		return left[0], "dates of the file read by no other order"
	}
	steady := ""
	for _, o := range left {
		switch jumps := dateJumps(by[o].pattern, stamps); jumps {
		case steadyDays:
			if steady != "" {
				return "", "no date of the file tells the order"
			}
			steady = o
		case unclear:
			return "", "no date of the file tells the order"
		}
	}
	if steady == "" {
		return "", "no date of the file tells the order"
	}
	return steady, "only so its days follow each other"
}

func countFits(text string, stamps []string) (n int) {
	p, ok := compiled(text)
	if !ok {
		return 0
	}
	for range p.clocks(stamps) {
		n++
	}
	return n
}

// clocks are what the clock shows in the stamps that read.
func (p pattern) clocks(stamps []string) iter.Seq[int64] {
	return func(yield func(int64) bool) {
		ps := stamp.NewParser(p.format, stamp.UTC)
		for _, s := range stamps {
			if m, bad := ps.Parse([]byte(s)); bad == nil && !yield(m.Local) {
				return
			}
		}
	}
}

// gait says how the days of a file follow each other.
type gait int

const (
	unclear    gait = iota // too little to tell
	steadyDays             // nearly every day is followed by the next, or by one soon after
	leaps                  // nearly every change of the day is one of months or years
)

// dateJumps tells how days follow each other when stamps are read by a pattern.
// Days must change often enough; where few stamps share a day leaps tell nothing: a file of one row a month is sound too.
func dateJumps(text string, stamps []string) gait {
	p, ok := compiled(text)
	if !ok {
		return unclear
	}
	rows, changes, near := 0, 0, 0
	last := int64(-1)
	for at := range p.clocks(stamps) {
		rows++
		day := at / 86400
		if last >= 0 && day != last {
			changes++
			if d := max(day-last, last-day); d <= 3 {
				near++
			}
		}
		last = day
	}
	many := rows >= 4*(changes+1)
	switch {
	case changes == 0 || !many && changes < 4:
		return unclear
	case 10*near >= 9*changes:
		return steadyDays
	case 10*near <= changes && many:
		return leaps
	}
	return unclear
}

// lastStamp is the last stamp of the file that reads, to show.
func (t *table) lastStamp(k candidate, stamps []string) string {
	for i := len(stamps) - 1; i >= 0; i-- {
		for _, s := range k.shapes {
			if p, ok := compiled(s.pattern); ok {
				if _, ok := p.fits(stamps[i]); ok {
					return stamps[i]
				}
			}
		}
	}
	return ""
}

// allStamps are the stamps of the whole file, in its order.
func (t *table) allStamps(cols []int) []string {
	var out []string
	most := slices.Max(cols)
	var cells []string
	for line := range strings.Lines(t.text) {
		line = strings.TrimRight(line, "\r\n")
		if strings.Contains(line, `"`) {
			cells, _ = cutCells(line, t.delim)
		} else {
			cells = cells[:0]
			rest, more := line, true
			for more && len(cells) <= most {
				var cell string
				cell, rest, more = strings.Cut(rest, string(t.delim))
				cells = append(cells, cell)
			}
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if s, ok := stampOf(cells, cols); ok {
			out = append(out, s)
		}
	}
	return out
}
