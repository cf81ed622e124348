package inspect

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// propose writes the description. Lines that a person must decide are commented
// out and say so; remarks tell what is only likely.
func (t *table) propose() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("# Proposed from %s. Read it before you trust it.", strconv.Quote(t.member))
	line("name: %s", yamlWord(t.nameOfSource()))
	line("files: [%s]", quote(t.globOf()))
	if t.as != nil {
		for _, l := range t.as.lines {
			line("%s", l)
		}
	}
	if t.encoding != "utf-8" {
		line("encoding: %s%s", t.encoding, remark(t.sureOf("encoding") != Certain, "likely"))
	}
	if t.delim != ',' {
		line("delimiter: %s", quote(delimName(t.delim)))
	}
	switch {
	case t.decimalOpen:
		line(`# decimalChar: ","   # decide: take out one of the two #`)
		line(`# groupChar: ","`)
	default:
		if t.decimal != '.' {
			line("decimalChar: %s", quote(string(t.decimal)))
		}
		if t.group != "" {
			line("groupChar: %s", quote(t.group))
		}
	}
	if t.comment != "" {
		line("commentPrefix: %s", quote(t.comment))
	}
	if n := t.titles(); n > 0 {
		line("skipRows: %d   # if their number changes from file to file, use headerStartsWith", n)
	}
	if n := len(t.block); n != 1 {
		line("headerRowCount: %d", n)
	}
	if t.unitRow > 0 {
		line("unitRow: %d", t.unitRow)
	}
	if t.footer != "" {
		line("footerPrefixes: [%s]", quote(t.footer))
	}
	if texts := t.missingTexts(); len(texts) > 0 {
		line("missingValues: [%s]", quoteAll(texts))
	}
	if len(t.cellUnits) > 0 {
		line("cellUnits: [%s]", quoteAll(t.cellUnits))
	}
	for _, left := range t.leftOut {
		line("# left out: %s", strings.Join(strings.Fields(left), " "))
	}
	switch {
	case t.zoneOpen:
		line("# zone: Europe/Amsterdam   # decide: where the logger's clock is set; a fixed offset (\"+01:00\") if it has " +
			"no daylight saving")
	case t.zone != "":
		line("zone: %s", quote(t.zone))
	}
	t.proposeTime(line)
	if t.mixed {
		line("# decide: many rows of one time differ, and no column tells them apart; is this one sensor?")
	}
	switch {
	case t.days.count > 0:
		t.proposeDays(line)
	case t.long:
		t.proposeLong(line)
	default:
		t.proposeWide(line)
	}
	return b.String()
}

func (t *table) proposeTime(line func(string, ...any)) {
	cols := make([]string, len(t.times))
	for i, c := range t.times {
		cols[i] = t.ref(c)
	}
	columns := strings.Join(cols, ", ")
	for _, f := range t.byOrder {
		line("# time: {columns: [%s], format: %s}   # decide: which order", columns, quote(f))
	}
	if len(t.byOrder) > 0 {
		return
	}
	shift := ""
	if t.shift != "" {
		shift = ", shift: " + t.shift
	}
	line("time: {columns: [%s], format: %s%s}", columns, quote(t.format), shift)
}

func (t *table) proposeLong(line func(string, ...any)) {
	line("layout: long")
	parts := []string{}
	if t.sensor.column > 0 && len(t.sensor.columns) == 0 {
		parts = append(parts, "sensor: "+t.ref(t.sensor.column-1))
	}
	var flag *Column
	for i := range t.columns {
		c := &t.columns[i]
		switch c.Role {
		case "channel", "value":
			parts = append(parts, c.Role+": "+t.ref(c.Position-1))
		case "flag":
			flag = c
		}
	}
	if flag != nil {
		good := t.goodFlags(flag.Position - 1)
		parts = append(parts, "flag: "+t.ref(flag.Position-1), "goodFlags: ["+quoteAll(good)+"]")
	}
	if t.sensor.column == 0 || len(t.sensor.columns) > 0 {
		t.proposeSensor(line)
	}
	line("long: {%s}", strings.Join(parts, ", "))
}

// goodFlags are the statuses of the sample that usually mark sound values; with
// none of these the most frequent one.
func (t *table) goodFlags(c int) []string {
	count := map[string]int{}
	for r := range t.rows() {
		if c < len(r.cells) {
			count[r.cells[c]]++
		}
	}
	good := slices.DeleteFunc(sortedKeys(count), func(f string) bool { return !slices.Contains(goodFlags, strings.ToLower(f)) })
	if len(good) == 0 {
		good = []string{mostOf(count)}
	}
	return good
}

func (t *table) proposeSensor(line func(string, ...any)) {
	switch {
	case len(t.sensorOpen) > 0:
		for _, c := range t.sensorOpen {
			line("# sensorFrom: {column: %s}   # decide: which column names the sensor", t.ref(c))
		}
	case len(t.sensor.columns) > 0:
		refs := make([]string, len(t.sensor.columns))
		for i, c := range t.sensor.columns {
			refs[i] = t.ref(c - 1)
		}
		line("sensorFrom: {columns: [%s]}", strings.Join(refs, ", "))
	case t.sensor.column > 0:
		line("sensorFrom: {column: %s}", t.ref(t.sensor.column-1))
	case t.sensor.header != "":
		line("sensorFrom: {headerLine: %s}", quote(t.sensor.header))
	default:
		line("sensor: %s   # likely; as in register/sensors.csv, or sensorFrom: {fileName: '^(bay[0-9]+)_'}",
			quote(t.sensor.constant))
	}
}

func (t *table) proposeWide(line func(string, ...any)) {
	t.proposeSensor(line)
	line("columns:")
	done := map[string]bool{}
	for _, c := range t.columns {
		if c.Role != "value" {
			continue
		}
		if c.family != "" {
			if !done[c.family] {
				line("  - {%s}%s", c.family, remark(true, "likely: columns that differ in a number only; "+c.Evidence))
			}
			done[c.family] = true
			continue
		}
		line("  - {%s}%s", t.itemOf(c, c.Channel), remark(c.Sure != Certain,
			howSure(c)+": "+strings.ReplaceAll(c.Evidence, "\n", " ")))
	}
	t.proposeLeft(line)
}

// howSure says how well founded a column is: what nothing tells of is stored as it stands.
func howSure(c Column) string {
	if c.Sure == Asked {
		return "stored as it stands"
	}
	return string(c.Sure)
}

func missingOf(c Column) string {
	if codes := numbersOf(c.missing); len(codes) > 0 {
		return ", missingValues: [" + strings.Join(codes, ", ") + "]"
	}
	return ""
}

func (t *table) refs(cols []int) string {
	out := make([]string, len(cols))
	for i, c := range cols {
		out[i] = t.ref(c)
	}
	return strings.Join(out, ", ")
}

// ref names a column: by name, or by position where names do not do.
func (t *table) ref(c int) string {
	if t.as != nil && t.as.refs != nil {
		return quote(t.as.refs[c])
	}
	name := t.columns[c].Name
	if _, err := strconv.Atoi(name); err == nil || t.placed != nil || name == "" || t.nameCount[name] > 1 {
		return strconv.Itoa(c + 1)
	}
	return quote(name)
}

// missingTexts are the codes of all value columns that are no numbers.
func (t *table) missingTexts() []string {
	var out []string
	for _, c := range t.columns {
		for _, m := range c.missing {
			if !pointNumber.MatchString(m) && !slices.Contains(out, m) {
				out = append(out, m)
			}
		}
	}
	if t.long { // they have no columns of their own to stand at
		for _, c := range t.columns {
			out = append(out, numbersOf(c.missing)...)
		}
	}
	return out
}

func numbersOf(codes []string) []string {
	var out []string
	for _, c := range codes {
		if pointNumber.MatchString(c) {
			out = append(out, c)
		}
	}
	return out
}

// nameOfSource makes a source name of the file's name.
func (t *table) nameOfSource() string {
	s := strings.ReplaceAll(t.stem(), "_", "-")
	if len(s) > 40 {
		s = strings.Trim(s[:40], "-")
	}
	return s
}

func (t *table) sureOf(what string) Sure {
	for _, f := range append(append([]Finding(nil), t.findings...), t.report.Findings...) {
		if f.What == what {
			return f.Sure
		}
	}
	return Certain
}

func remark(is bool, text string) string {
	if !is {
		return ""
	}
	return "   # " + text
}

// quote writes a YAML string: single-quoted, or double-quoted where it has
// characters that must be escaped.
func quote(s string) string {
	for _, r := range s {
		if r < ' ' || r == 0x7f || r > 0x7e && !strconv.IsPrint(r) {
			return strconv.QuoteToASCII(s)
		}
	}
	return "'" + strings.ReplaceAll(s, "'", "''") + "'"
}

func quoteAll(list []string) string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = quote(s)
	}
	return strings.Join(out, ", ")
}

// yamlWord leaves a plain word plain, unless YAML would read it as something
// else.
func yamlWord(s string) string {
	switch strings.ToLower(s) {
	case "true", "false", "null", "yes", "no", "on", "off", "y", "n", "":
		return quote(s)
	}
	if s[0] >= '0' && s[0] <= '9' || strings.Trim(s,
		"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-") != "" || s[0] == '-' {
		return quote(s)
	}
	return s
}

func sortedKeys(m map[string]int) []string {
	return slices.Sorted(maps.Keys(m))
}
