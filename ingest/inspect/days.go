package inspect

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// dayRun is a run of columns that hold the times of a day.
type dayRun struct {
	first, count int
	begin        int  // minutes after midnight of the first column
	open         bool // the columns are numbered from 1: hour 1 may be stored at its beginning or its end
	odd          bool // more or fewer columns than a day has
}

var (
	clockLabel  = regexp.MustCompile(`(\d{1,2})[:.hH](\d{2})(?::\d{2})?`)
	numberLabel = regexp.MustCompile(`\d+`)
)

// findDays finds the times of a day in the columns' names, in a table whose stamps
// are dates alone.
func (t *table) findDays() {
	p, ok := compiled(t.anyFormat())
	if !ok || t.nameRow == 0 || strings.ContainsAny(strings.ReplaceAll(p.text, "'", ""), "Hh") ||
		strings.Contains(p.text, "epoch") {
		return
	}
	names := t.names()
	var best dayRun
	for c := 0; c < len(names); c++ {
		for _, labels := range []func(string) (int, int, bool){clockMinutes, digitMinutes, numberMinutes(24),
			numberMinutes(48), numberMinutes(96)} {
			if run, ok := runFrom(names, c, labels); ok && run.count > best.count {
				best = run
			}
		}
	}
	if best.count < 20 && (best.odd || best.count < 2 || !clockLabel.MatchString(names[best.first])) {
		return
	}
	for c := best.first; c < best.first+best.count; c++ {
		if s := t.statsOf(c); s.filled > 0 && s.numbers == 0 {
			return
		}
	}
	t.days = best
	t.report.add(Finding{"layout", "days", sureIf(!best.open && !best.odd),
		fmt.Sprintf("a day a line: %d columns from %q on hold its times", best.count, names[best.first])})
	if best.odd {
		t.ask("days", fmt.Sprintf("%d columns from %q to %q look like the times of a day, but do not part it evenly; "+
			"which of them belong to the hour that comes twice?",
			best.count, names[best.first], names[best.first+best.count-1]))
	}
	if best.open && t.answers.Interval == "" {
		step := 1440 / best.count
		t.ask("interval", fmt.Sprintf("the columns of a day begin with %q: is the value of the first stored at "+
			"the beginning of its %d minutes or at their end?", names[best.first], step),
			"days.begin: 00:00", fmt.Sprintf("days.begin: %s", clockOf(step)))
	}
	if best.open && t.answers.Interval == "end" {
		t.days.begin = 1440 / best.count
	}
}

func (t *table) ask(key, text string, choices ...string) {
	t.report.Questions = append(t.report.Questions, Question{Key: key, Text: text, Choices: choices})
}

func clockOf(minutes int) string { return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60) }

// clockMinutes reads a time of day in a name: the minutes, and the length of the
// interval where the name gives its end too.
func clockMinutes(name string) (minutes, length int, ok bool) {
	found := clockLabel.FindAllStringSubmatch(name, -1)
	if len(found) == 0 || len(found) > 2 {
		return 0, 0, false
	}
	at := make([]int, len(found))
	for i, m := range found {
		h, _ := strconv.Atoi(m[1])
		min, _ := strconv.Atoi(m[2])
		if at[i] = 60*h + min; min > 59 || at[i] > 1440 {
			return 0, 0, false
		}
	}
	if len(at) == 2 {
		length = (at[1] - at[0] + 1440) % 1440
	}
	return at[0], length, true
}

// digitMinutes reads a time of day of four digits: "0015".
func digitMinutes(name string) (minutes, length int, ok bool) {
	if len(name) != 4 || !isDigitText(name) {
		return 0, 0, false
	}
	n, _ := strconv.Atoi(name)
	return n/100*60 + n%100, 0, n%100 < 60 && n <= 2400
}

// numberMinutes reads the number of a column among count of them: "H1", "Q96", "0".
func numberMinutes(count int) func(string) (int, int, bool) {
	return func(name string) (minutes, length int, ok bool) {
		found := numberLabel.FindAllString(name, -1)
		if len(found) == 0 || len(found) > 2 || len(found[0]) > 3 {
			return 0, 0, false
		}
		n, _ := strconv.Atoi(found[0])
		return n * 1440 / count, 0, n <= count
	}
}

// runFrom finds how far columns from c on go through a day.
func runFrom(names []string, c int, labels func(string) (int, int, bool)) (run dayRun, ok bool) {
	at, length, ok := labels(names[c])
	if !ok || c+1 >= len(names) {
		return run, false
	}
	next, _, ok := labels(names[c+1])
	step := next - at
	if !ok || step <= 0 || 1440%step != 0 || length > 0 && length != step {
		return run, false
	}
	run = dayRun{first: c, begin: at}
	last := at - step
	shape := numberLabel.ReplaceAllString(names[c], "")
	for ; c < len(names); c++ {
		now, _, ok := labels(names[c])
		if !ok || now%1440 != (last+step)%1440 || numberLabel.ReplaceAllString(names[c], "") != shape {
			break
		}
		last = now
		run.count++
	}
	run.odd = run.count*step != 1440
	run.open = run.begin == step // from 1, or from the end of the first interval
	if run.open {
		run.begin = 0
	}
	return run, run.count > 1 && run.begin <= step
}

// inDay tells whether a column holds a time of the day.
func (t *table) inDay(c int) bool { return c >= t.days.first && c < t.days.first+t.days.count }

// proposeDays writes the layout of a day a line.
func (t *table) proposeDays(line func(string, ...any)) {
	line("layout: days")
	t.proposeSensor(line)
	k := slices.IndexFunc(t.columns, func(c Column) bool { return t.inDay(c.Position - 1) })
	c := t.columns[k]
	line("channel: %s%s", yamlWord(c.Channel), remark(true, howSure(c)+": "+c.Evidence))
	item := fmt.Sprintf("first: %s, count: %d", t.ref(t.days.first), t.days.count)
	if t.days.begin > 0 {
		item += ", begin: " + quote(clockOf(t.days.begin))
	}
	if c.Unit != "" {
		item += ", unit: " + quote(c.Unit)
	}
	mark := ""
	if t.days.odd || t.days.open && t.answers.Interval == "" {
		mark = "# "
	}
	line("%sdays: {%s}%s", mark, item, remark(mark != "", "decide: see the question"))
}
