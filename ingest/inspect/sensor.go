package inspect

import (
	"fmt"
	"path"
	"regexp"
	"strconv"
	"strings"
)

// sensorAt is where the sensor's name comes from.
type sensorAt struct {
	constant string
	header   string // pattern
	column   int    // 1 = first; 0 for none
	columns  []int  // those that name it together, where it is several; column is one of them
}

var titleSensor = regexp.MustCompile(`(?i)^["#\s]*(serial(?: no\.?| number)?|s/n|logger(?: id| name)?|device(?: id| " +
	"name)?|unit|station|sensor)\s*[:=]\s*"?([A-Za-z0-9][\w.-]*)`)

// dateRun is a date, or a run of digits as long as one, in a file name.
var dateRun = regexp.MustCompile(`\d{4}[-_.]\d{2}[-_.]\d{2}([-_T]?\d{4,6})?|\d{6,}|\d{4}[-_]\d{2}`)

// findSensor finds the name of the sensor: a column, a title line, or else what
// the file name holds beside dates.
func (t *table) findSensor() {
	if len(t.sensorOpen) > 0 {
		t.report.add(Finding{"sensor", "", Asked, "more than one column could name it"})
		return
	}
	if t.sensor.column > 0 {
		t.report.add(Finding{"sensor", "column " + strconv.Itoa(t.sensor.column), Likely,
			t.columns[t.sensor.column-1].Evidence})
		return
	}
	for _, c := range t.columns {
		if c.Role == "sensor" {
			t.sensor.column = c.Position
			t.report.add(Finding{"sensor", "column " + strconv.Itoa(c.Position), Likely, "the column " + strconv.Quote(c.Name)})
			return
		}
	}
	for i := range t.first {
		if m := titleSensor.FindStringSubmatch(t.recs[i].text); m != nil {
			t.sensor.header = `^["#\s]*` + regexp.QuoteMeta(m[1]) + `\s*[:=]\s*"?([A-Za-z0-9][\w.-]*)`
			t.report.add(Finding{"sensor", m[2], Likely, fmt.Sprintf("line %d names it", t.recs[i].line)})
			return
		}
	}
	t.sensor.constant = t.stem()
	t.report.add(Finding{"sensor", t.sensor.constant, Likely,
		"the file's name, since neither a column nor a title line names it"})
}

// stem is the file's name without suffix and dates, as a plain word.
func (t *table) stem() string {
	base := strings.TrimSuffix(t.member, path.Ext(t.member))
	if s := slug(dateRun.ReplaceAllString(base, "")); s != "" {
		return s
	}
	return "logger"
}

// globOf makes a pattern of the file's name that fits next month's file too: dates
// and the numbers of copies become *, and something may follow the name.
func (t *table) globOf() string { return globOf(t.name, t.member) }

var (
	copyMark  = regexp.MustCompile(`( - copy| copy| - Copy)?\s*\(\d+\)|( - [Cc]opy)`)
	monthName = regexp.MustCompile(`(?i)[-_ ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]{0,6}[-_ ]?(\d{2,4})?`)
	globSigns = regexp.MustCompile(`[*?\[\]\\]`)
)

func globOf(file, member string) string {
	name := member
	if strings.HasSuffix(strings.ToLower(file), ".zip") { // the zip's own name is what ingest matches
		name = path.Base(strings.ReplaceAll(file, `\`, "/"))
	}
	for _, re := range []*regexp.Regexp{copyMark, dateRun, monthName} {
		name = re.ReplaceAllString(name, "\x00")
	}
	name = globSigns.ReplaceAllString(name, "?")
	ext := path.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	if !strings.Contains(name, "\x00") {
		stem += "\x00"
	}
	if strings.Trim(stem, "\x00-_. ") == "" {
		stem = "[0-9]\x00" // a bare date: not every file there is
		if !isDigit((member + "x")[0]) {
			stem = "\x00"
		}
	}
	return regexp.MustCompile("\x00+").ReplaceAllString(stem, "*") + ext
}
