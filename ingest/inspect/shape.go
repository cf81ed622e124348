package inspect

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"wane/ingest/decode/stamp"
)

// shape is one way in which a stamp may be written.
type shape struct {
	pattern string // as package stamp compiles it
	order   string // dmy, mdy or ymd where its digits allow another order too; else ""
	clock   bool   // it has a time of day
	n       int    // stamps that read by it
	digits  bool   // it is a bare number: only a name or the rest of the file tells that it is a time
}

// token is a run of digits ('d'), of letters ('w'), of blanks (' '), or one other
// character, which is its own kind.
type token struct {
	kind rune
	text string
}

func tokensOf(s string) []token {
	var out []token
	for len(s) > 0 {
		r, size := utf8.DecodeRuneInString(s)
		kind := kindOf(r)
		n := size
		for n < len(s) && (kind == 'd' || kind == 'w' || kind == ' ') {
			r, size := utf8.DecodeRuneInString(s[n:])
			if kindOf(r) != kind {
				break
			}
			n += size
		}
		text := s[:n]
		if kind == ' ' {
			text = " "
		}
		out = append(out, token{kind, text})
		s = s[n:]
	}
	return out
}

func kindOf(r rune) rune {
	switch {
	case r >= '0' && r <= '9':
		return 'd'
	case unicode.IsLetter(r):
		return 'w'
	case r == ' ' || r == '\u00a0' || r == '\u202f':
		return ' '
	}
	return r
}

// deriver finds the pattern of one stamp, from its first token to its last.
type deriver struct {
	toks     []token
	i        int
	interval bool // what follows a clock and a dash is the other end, no offset

	parts []string // of the pattern; the date is "\x00"
	dates []shape  // the ways to read the date
	clock bool
	zone  bool

	yearLast bool // the year is still to come, behind the clock and the zone
}

// bareNumber may be a time written as one number.
var bareNumber = regexp.MustCompile(`^\d+([.,]\d+)?$`)

// shapesOf lists the patterns that a stamp may be written in, none where it does
// not look like one. interval says that a clock is followed by a dash and the
// other end, not by an offset.
func shapesOf(text string, interval bool) []shape {
	if bareNumber.MatchString(text) {
		return digitShapes(text)
	}
	if strings.HasPrefix(text, "/Date(") {
		return []shape{{pattern: "epoch-ms", clock: true}}
	}
	d := &deriver{toks: tokensOf(text), interval: interval}
	for d.i < len(d.toks) {
		switch {
		case d.dates == nil && d.date():
		case !d.clock && d.clockOfDay():
		case d.joined(): // a clock follows
		case d.clock && !d.zone && d.zoneOf():
		case (d.clock || d.dates != nil) && d.otherEnd():
		case d.yearLast && d.clock && isYear(d.at(0)):
			d.parts = append(d.parts, "yyyy")
			d.yearLast = false
			d.i++
		case d.weekday():
		case d.toks[d.i].kind == 'd':
			return nil
		default:
			d.literal(d.toks[d.i].text)
			d.i++
		}
	}
	if d.dates == nil || d.yearLast {
		return nil
	}
	whole := strings.Join(d.parts, "")
	var out []shape
	for _, s := range d.dates {
		s.clock = d.clock
		s.pattern = strings.Replace(whole, "\x00", s.pattern, 1)
		if _, err := stamp.Compile(s.pattern); err == nil {
			out = append(out, s)
		}
	}
	return out
}

// joined takes the mark between a date and the clock that follows it at once.
func (d *deriver) joined() bool {
	if t := d.at(0); d.clock || d.dates == nil || t.kind != '-' && t.kind != ':' && t.kind != '_' {
		return false
	}
	if _, n := d.hands(1); n < 3 && len(d.at(1).text) != 4 && len(d.at(1).text) != 6 {
		return false
	}
	d.literal(d.at(0).text)
	d.i++
	return true
}

// literal writes text that stands for itself.
func (d *deriver) literal(text string) {
	if strings.IndexFunc(text, func(r rune) bool { return unicode.IsLetter(r) || strings.ContainsRune("[]*'", r) }) >= 0 {
		text = "'" + strings.ReplaceAll(text, "'", "''") + "'"
		if n := len(d.parts) - 1; n >= 0 && len(d.parts[n]) > 1 && strings.HasSuffix(d.parts[n], "'") { // '[' and 'a' are '[a'
			d.parts[n] = strings.TrimSuffix(d.parts[n], "'") + text[1:]
			return
		}
	}
	d.parts = append(d.parts, text)
}

// at gives a token ahead; past the end one of kind 0.
func (d *deriver) at(k int) token {
	if d.i+k < len(d.toks) {
		return d.toks[d.i+k]
	}
	return token{}
}

// separator gives what parts two pieces of a date, k tokens ahead: a point, dash,
// slash or blank, a point or comma with a blank, or a word such as a Chinese year.
func (d *deriver) separator(k int) (text string, n int) {
	t := d.at(k)
	switch {
	case t.kind == 0:
		return "", 0
	case strings.ContainsRune("-/._", t.kind), t.kind == ',':
		if d.at(k+1).kind == ' ' {
			return t.text + " ", 2
		}
		return t.text, 1
	case t.kind == ' ' && d.at(k+1).text == "de" && d.at(k+2).kind == ' ': // 1 de julio de 2026
		return " de ", 3
	case t.kind == ' ':
		return " ", 1
	case t.kind == 'w' && (t.text == "年" || t.text == "月" || t.text == "日"):
		return t.text, 1
	}
	return "", 0
}

func isMonth(t token) bool {
	f, err := stamp.Compile("yyyy MMM d")
	if err != nil || t.kind != 'w' {
		return false
	}
	_, bad := stamp.NewParser(f, stamp.UTC).Parse([]byte("2000 " + t.text + " 1"))
	return bad == nil
}

func intOf(t token) int {
	n := 0
	for _, c := range t.text {
		n = n*10 + int(c-'0')
	}
	return n
}

func isYear(t token) bool {
	return t.kind == 'd' && len(t.text) == 4 && intOf(t) >= 1970 && intOf(t) < 2100
}

// short tells whether a token is one or two digits, at most most.
func short(t token, most int) bool {
	return t.kind == 'd' && len(t.text) <= 2 && intOf(t) >= 1 && intOf(t) <= most
}

// padded gives a letter once or twice, as the digits stand.
func padded(letter string, t token) string {
	if len(t.text) == 2 {
		return letter + letter
	}
	return letter
}

// date takes a date at the tokens in hand.
func (d *deriver) date() bool {
	a := d.at(0)
	s1, n1 := d.separator(1)
	b := d.at(1 + n1)
	s2, n2 := d.separator(2 + n1)
	c := d.at(2 + n1 + n2)
	take := func(n int, ways ...shape) bool {
		if len(ways) == 0 {
			return false
		}
		d.dates = ways
		d.parts = append(d.parts, "\x00")
		d.i += n
		return true
	}
	three := 3 + n1 + n2
	l1, l2 := quoteWords(s1), quoteWords(s2)
	switch {
	case n1 > 0 && n2 > 0 && isYear(a) && short(b, 12) && short(c, 31): // 2026-07-01
		return take(three, shape{pattern: "yyyy" + l1 + padded("M", b) + l2 + padded("d", c)})
	case n1 > 0 && n2 > 0 && isYear(a) && isMonth(b) && short(c, 31):
		return take(three, shape{pattern: "yyyy" + l1 + "MMM" + l2 + padded("d", c)})
	case n1 > 0 && n2 > 0 && isMonth(b) && a.kind == 'd' && len(a.text) <= 2 && c.kind == 'd': // 1 Jul 2026
		if isYear(c) && short(a, 31) {
			return take(three, shape{pattern: padded("d", a) + l1 + "MMM" + l2 + "yyyy"})
		}
		return take(three, twoDigitYear(a, c, l1+"MMM"+l2)...)
	case n1 > 0 && n2 > 0 && isMonth(a) && short(b, 31) && isYear(c): // Jul 1, 2026
		return take(three, shape{pattern: "MMM" + l1 + padded("d", b) + l2 + "yyyy"})
	case n1 == 1 && n2 == 1 && s1 == s2 && a.kind == 'd' && b.kind == 'd' && c.kind == 'd' && len(a.text) <= 2 &&
		len(b.text) <= 2:
		if isYear(c) {
			return take(three, dayAndMonth(a, b, l1, l2+"yyyy")...)
		}
		if len(c.text) > 2 {
			return false
		}
		var ways []shape
		if len(c.text) == 2 {
			ways = dayAndMonth(a, b, l1, l2+"yy")
		}
		if len(a.text) == 2 && short(b, 12) && short(c, 31) {
			ways = append(ways, shape{pattern: "yy" + l1 + padded("M", b) + l2 + padded("d", c), order: "ymd"})
		}
		return take(three, ways...)
	case n1 == 2 && n2 >= 1 && a.kind == 'd' && b.kind == 'd' && isYear(c): // 1. 7. 2026
		return take(three, dayAndMonth(a, b, l1, l2+"yyyy")...)
	case n1 == 1 && n2 == 1 && isMonth(a) && short(b, 31) && d.at(4).kind == 'd' && d.at(5).kind == ':' &&
		isYear(d.toks[len(d.toks)-1]): // Jul 1 12:00:00 UTC 2026
		d.yearLast = true
		return take(3, shape{pattern: "MMM" + l1 + "d"})
	case a.kind == 'd' && short(a, 31) && isMonth(d.at(1)) && d.at(2).kind == 'd': // 01JUL2026
		if isYear(d.at(2)) {
			return take(3, shape{pattern: padded("d", a) + "MMMyyyy"})
		}
		return take(3, twoDigitYear(a, d.at(2), "MMM")...)
	case n1 > 0 && isYear(a) && b.kind == 'd' && len(b.text) == 3 && intOf(b) >= 1 && intOf(b) <= 366: // 2026-182
		return take(2+n1, shape{pattern: "yyyy" + l1 + "DDD"})
	case a.kind == 'd' && (len(a.text) == 8 || len(a.text) == 6 && d.at(1).kind != ':'):
		var ways []shape
		for _, s := range digitShapes(a.text) {
			if !s.clock && !strings.Contains(s.pattern, "serial") {
				ways = append(ways, s)
			}
		}
		return take(1, ways...)
	}
	return false
}

// quoteWords writes a separator for a pattern.
func quoteWords(s string) string {
	if strings.IndexFunc(s, unicode.IsLetter) >= 0 {
		return "'" + s + "'"
	}
	return s
}

// dayAndMonth gives the orders in which two numbers may be day and month.
func dayAndMonth(a, b token, sep, rest string) (ways []shape) {
	if short(a, 31) && short(b, 12) {
		ways = append(ways, shape{pattern: padded("d", a) + sep + padded("M", b) + rest, order: "dmy"})
	}
	if short(a, 12) && short(b, 31) {
		ways = append(ways, shape{pattern: padded("M", a) + sep + padded("d", b) + rest, order: "mdy"})
	}
	return ways
}

// twoDigitYear gives the orders of a day and a two-digit year about a month in
// words.
func twoDigitYear(a, c token, middle string) (ways []shape) {
	if short(a, 31) && len(c.text) == 2 {
		ways = append(ways, shape{pattern: padded("d", a) + middle + "yy", order: "dmy"})
	}
	if len(a.text) == 2 && short(c, 31) {
		ways = append(ways, shape{pattern: "yy" + middle + padded("d", c), order: "ymd"})
	}
	return ways
}

// otherEnd takes the end of an interval, whose beginning is the stamp. A date alone has none that is a clock: that is its
// own, as in 27 mars 2026 à 14:00.
func (d *deriver) otherEnd() bool {
	k := 0
	text := ""
	for k < 3 && d.at(k).kind != 'd' && d.at(k).kind != 0 {
		text += d.at(k).text
		k++
	}
	if _, n := d.hands(k); !d.clock && n > 2 && d.at(k+1).kind == ':' {
		return false
	}
	if d.at(k).kind != 'd' || !slices.Contains([]string{"-", "–", "/", "~", "to", "bis", "tot", "until", "a", "à", "..",
		"—"}, strings.TrimSpace(text)) {
		return false
	}
	d.literal(text)
	d.parts = append(d.parts, "*")
	d.i = len(d.toks)
	return true
}

// weekday takes a word before the clock, such as the day of the week.
func (d *deriver) weekday() bool {
	t := d.at(0)
	if t.kind != 'w' || d.clock || t.text == "T" || utf8.RuneCountInString(t.text) < 2 {
		return false
	}
	d.parts = append(d.parts, "EEE")
	d.i++
	if d.at(0).kind == '.' {
		d.i++ // the step takes it along
	}
	return true
}

// digitShapes reads a bare number as a time.
func digitShapes(text string) (out []shape) {
	whole, _, fraction := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	if strings.Trim(whole, "0123456789") != "" {
		return nil
	}
	add := func(order string, clock bool, patterns ...string) {
		for _, p := range patterns {
			f, err := stamp.Compile(p)
			if err != nil {
				continue
			}
			if _, ok := (pattern{format: f}).fits(text); ok {
				out = append(out, shape{pattern: p, order: order, clock: clock, digits: true})
			}
		}
	}
	if fraction {
		switch len(whole) {
		case 10:
			add("", true, "epoch-s")
		case 13:
			add("", true, "epoch-ms")
		case 5:
			add("", true, "serial-days")
		}
		return out
	}
	switch len(whole) {
	case 5:
		add("", false, "serial-days")
	case 6:
		add("ymd", false, "yyMMdd")
		add("dmy", false, "ddMMyy")
		add("mdy", false, "MMddyy")
	case 8:
		if add("", false, "yyyyMMdd"); len(out) == 0 {
			add("dmy", false, "ddMMyyyy")
			add("mdy", false, "MMddyyyy")
		}
	case 10:
		add("", true, "yyyyMMddHH")
		add("", true, "epoch-s")
		add("", true, "yyMMddHHmm")
	case 12:
		add("", true, "yyyyMMddHHmm")
		add("", true, "yyMMddHHmmss")
	case 13:
		add("", true, "epoch-ms")
	case 14:
		add("", true, "yyyyMMddHHmmss")
		add("", true, "'"+whole[:2]+"'yyyyMMddHHmm")
	case 16:
		add("", true, "epoch-us")
		add("", true, "'"+whole[:2]+"'yyyyMMddHHmmss")
	case 17:
		add("", true, "yyyyMMddHHmmssSSS")
	case 19:
		add("", true, "epoch-ns")
	}
	return out
}
