package inspect

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/stamp"
)

// pattern is a time format to try. Where other is set it is the same with day
// and month exchanged.
type pattern struct {
	text       string
	other      string
	monthFirst bool
	format     *stamp.Format
	marks      uint64 // the punctuation that it needs
}

// patterns lists what loggers write, the stricter spelling before the laxer one.
var patterns = sync.OnceValue(func() []pattern {
	var out []pattern
	add := func(text, other string) {
		f, err := stamp.Compile(text)
		if err != nil {
			panic(err) // a fault in these lists, found by any test
		}
		out = append(out, pattern{text: text, other: other, format: f, marks: marksOf(strings.ReplaceAll(strings.ReplaceAll(text, "'T'", ""), "epoch-", ""))})
	}
	dates := [][2]string{
		{"yyyy-MM-dd", ""}, {"yyyy-M-d", ""}, {"yyyy/MM/dd", ""}, {"yyyy/M/d", ""}, {"yyyy.MM.dd", ""},
		{"dd-MMM-yyyy", ""}, {"d-MMM-yyyy", ""}, {"dd MMM yyyy", ""}, {"d MMM yyyy", ""}, {"dd/MMM/yyyy", ""}, {"dd-MMM-yy", ""}, {"MMM d yyyy", ""}, {"MMM d, yyyy", ""},
		{"yyyyMMdd", ""}, {"yyyy DDD", ""}, {"yyyy-DDD", ""},
	}
	for _, sep := range []string{".", "/", "-"} {
		for _, y := range []string{"yyyy", "yy"} {
			dates = append(dates,
				[2]string{"dd" + sep + "MM" + sep + y, "MM" + sep + "dd" + sep + y},
				[2]string{"d" + sep + "M" + sep + y, "M" + sep + "d" + sep + y})
		}
	}
	clocks := []string{"HH:mm:ss", "H:mm:ss", "HH:mm", "H:mm", "HH:mm:ss.S", "H:mm:ss.S", "HH:mm:ss,S", "hh:mm:ss a", "h:mm:ss a", "hh:mm a", "h:mm a", "HH.mm", "HH.mm.ss", "HHmm", "HHmmss"}
	for _, d := range dates {
		for _, c := range clocks {
			for _, join := range []string{" ", "'T'"} {
				for _, off := range []string{"", "XXX", " XXX"} {
					other := ""
					if d[1] != "" {
						other = d[1] + join + c + off
					}
					add(d[0]+join+c+off, other)
				}
			}
		}
		other := d[1]
		add(d[0], other)
	}
	for _, p := range out {
		if p.other != "" {
			add(p.other, p.text)
			out[len(out)-1].monthFirst = true
		}
	}
	for _, t := range []string{"yyyyMMddHHmmss", "yyyyMMddHHmm", "epoch-s", "epoch-ms"} {
		add(t, "")
	}
	return out
})

// marksOf is the set of punctuation in a text, by its place in ASCII.
func marksOf(s string) uint64 {
	var m uint64
	for i := range len(s) {
		if c := s[i]; c < 64 && !isDigit(c) {
			m |= 1 << c
		}
	}
	return m
}

// plausible bounds what a stamp may say, to keep numbers from reading as times.
var (
	earliest = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	latest   = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	epochMin = time.Date(1995, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
)

// fits tells whether a stamp reads by a pattern.
func (p pattern) fits(cell string) (local int64, ok bool) {
	m, err := stamp.NewParser(p.format, stamp.UTC).Parse([]byte(cell))
	if err != nil || m.Local < earliest || m.Local >= latest || p.format.Form != stamp.Calendar && m.Local < epochMin {
		return 0, false
	}
	return m.Local, true
}

// needed is the share of stamps below the header that must read: footers and
// damage are the rest.
const needed = 0.6

// findTime finds the columns and the pattern of the stamp.
func (t *table) findTime() error {
	var lines []record
	for _, r := range t.recs {
		if len(r.cells) == t.width {
			lines = append(lines, r)
		}
	}
	// The bottom of the sample is data for certain; headers stand above.
	if from := len(lines) / 3; len(lines) > 6 {
		lines = lines[from:]
	}
	if len(lines) > 400 {
		lines = lines[:400]
	}
	type choice struct {
		cols []int
		n    int
		fit  []pattern
	}
	var best choice
	try := func(cols ...int) {
		fit, n := t.fitting(lines, cols)
		// A date and a time of day in two columns say more than the date alone.
		if n > best.n || n > 0 && n == best.n && len(cols) > len(best.cols) && clockIn(fit) && !clockIn(best.fit) {
			best = choice{cols, n, fit}
		}
	}
	for c := range min(t.width, 40) {
		try(c)
	}
	for c := range min(t.width-1, 40) {
		try(c, c+1)
	}
	for c := range min(t.width-2, 40) {
		if !clockIn(best.fit) {
			try(c, c+1, c+2)
		}
	}
	if len(best.fit) == 0 {
		return &emit.FileError{File: t.name, What: "no column reads as a time stamp", Do: "write the description by hand; sources/ says how a time format is written"}
	}
	t.times = best.cols
	t.choose(best.fit, lines)
	t.markStamps()
	return nil
}

func clockIn(fit []pattern) bool {
	return len(fit) > 0 && (strings.ContainsAny(fit[0].text, "Hh") || strings.HasPrefix(fit[0].text, "epoch"))
}

// fitting gives the patterns that read most stamps of some columns, in the
// order of the list, and how many the best one reads.
func (t *table) fitting(lines []record, cols []int) (fit []pattern, best int) {
	stamps := t.stampsOf(lines, cols)
	probes := stamps[max(0, len(stamps)-8):]
	marks := make([]uint64, len(probes))
	for i, s := range probes {
		marks[i] = marksOf(s)
	}
	counts := map[int]int{}
	for i, p := range patterns() {
		if strings.Contains(p.text, "HHmm") && len(cols) > 1 && !t.namedAsTime(cols[len(cols)-1]) {
			continue // any number below 2400 would do
		}
		// The last cells first: most patterns fit none of them.
		probe := false
		for k, s := range probes {
			if !probe && p.marks&^marks[k] == 0 {
				_, probe = p.fits(s)
			}
		}
		if !probe {
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
		if float64(n) >= needed*float64(len(stamps)-first) {
			counts[i] = n
			best = max(best, n)
		}
	}
	for i, p := range patterns() {
		if n := counts[i]; n > 0 && n == best {
			fit = append(fit, p)
		}
	}
	return fit, best
}

// namedAsTime tells whether a column's name, wherever it stands above, is a word
// for time.
func (t *table) namedAsTime(c int) bool {
	for _, r := range t.recs[:min(len(t.recs), 12)] {
		if c < len(r.cells) && !isDigitText(r.cells[c]) && isTimeWord(r.cells[c]) {
			return true
		}
	}
	return false
}

func isDigitText(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// stampsOf joins the stamp's cells of each line.
func (t *table) stampsOf(lines []record, cols []int) []string {
	var out []string
	for _, r := range lines {
		parts := make([]string, len(cols))
		blank := false
		for i, c := range cols {
			if c >= len(r.cells) || r.cells[c] == "" {
				blank = true
				break
			}
			parts[i] = r.cells[c]
		}
		if !blank {
			out = append(out, strings.Join(parts, " "))
		}
	}
	return out
}

// choose settles on one pattern of those that read equally many stamps, or
// leaves day and month open.
func (t *table) choose(fit []pattern, lines []record) {
	stamps := t.stampsOf(lines, t.times)
	p := fit[0]
	// Padded and unpadded digits read alike where all have two: only a leading
	// zero proves that the logger pads.
	if lax := loosen(p.text); lax != p.text && !hasLeadingZero(stamps) {
		for _, q := range fit {
			if q.text == lax {
				p = q
			}
		}
	}
	f := Finding{What: "time format", Value: p.text, Sure: Certain, Evidence: "stamps such as " + stamps[len(stamps)-1]}
	if p.other == "" {
		if strings.Contains(p.text, "epoch") {
			f.Evidence += ", which is " + epochWords(p, stamps[len(stamps)-1])
		}
		t.format = p.text
		t.report.add(f)
		return
	}
	if p.monthFirst {
		p.text, p.other = p.other, p.text
	}
	dayFirst, monthFirst := t.count(p.text), t.count(p.other)
	switch {
	case t.answers.Order == "dmy":
		f.Evidence += "; day first, as answered"
	case t.answers.Order == "mdy":
		p.text = p.other
		f.Evidence += "; month first, as answered"
	case dayFirst > monthFirst:
		f.Evidence += fmt.Sprintf("; %d have a day above 12 when the day is first", dayFirst-monthFirst)
	case monthFirst > dayFirst:
		p.text = p.other
		f.Evidence += fmt.Sprintf("; %d have a day above 12 when the month is first", monthFirst-dayFirst)
	default:
		t.byOrder = [2]string{p.text, p.other}
		f.Value, f.Sure = "", Asked
		f.Evidence += "; no day is above 12, so day and month cannot be told apart"
		t.report.add(f)
		t.report.Questions = append(t.report.Questions, Question{
			Key: "time.format", Text: fmt.Sprintf("is %s written day first or month first?", stamps[len(stamps)-1]), Choices: t.byOrder[:],
		})
		return
	}
	f.Value, t.format = p.text, p.text
	if strings.Contains(p.text, "yy") && !strings.Contains(p.text, "yyyy") {
		f.Sure = Likely
		f.Evidence += "; two digits of the year, taken as the last part"
	}
	t.report.add(f)
}

// count is how many stamps of the sample a pattern reads.
func (t *table) count(text string) int {
	f, err := stamp.Compile(text)
	if err != nil {
		return 0
	}
	p := pattern{format: f}
	n := 0
	for _, s := range t.stampsOf(t.recs, t.times) {
		if _, ok := p.fits(s); ok {
			n++
		}
	}
	return n
}

// loosen turns padded day, month and hour into ones of one or two digits.
func loosen(text string) string {
	if strings.Contains(text, "yyyyMMdd") {
		return text
	}
	r := strings.NewReplacer("MMM", "MMM", "dd", "d", "MM", "M", "HH:", "H:", "hh:", "h:")
	if strings.HasPrefix(text, "yyyy") {
		return text // year first is the padded kind in practice; 2026-1-5 does not fit it and picks the other
	}
	return r.Replace(text)
}

// hasLeadingZero tells whether a stamp has a day, month or hour with a zero
// before it.
func hasLeadingZero(stamps []string) bool {
	for _, s := range stamps {
		for i := 0; i+1 < len(s); i++ {
			if s[i] == '0' && isDigit(s[i+1]) && (i == 0 || !isDigit(s[i-1]) && s[i-1] != ':') {
				return true
			}
		}
	}
	return false
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func epochWords(p pattern, s string) string {
	local, _ := p.fits(s)
	return time.Unix(local, 0).UTC().Format(time.RFC3339)
}

// markStamps notes which records have a stamp that reads.
func (t *table) markStamps() {
	var ps []pattern
	for _, text := range []string{t.format, t.byOrder[0], t.byOrder[1]} {
		if f, err := stamp.Compile(text); text != "" && err == nil {
			ps = append(ps, pattern{format: f})
		}
	}
	t.stamped = make([]bool, len(t.recs))
	for i, r := range t.recs {
		for _, s := range t.stampsOf([]record{r}, t.times) {
			for _, p := range ps {
				_, ok := p.fits(s)
				t.stamped[i] = t.stamped[i] || ok
			}
		}
	}
}
