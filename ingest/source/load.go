package source

import (
	"cmp"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"wane/ingest/decode/stamp"
	"wane/ingest/internal/strictyaml"
	"wane/ingest/problem"
)

// Load reads one description. filename is for messages, relative to the site
// folder. The error, if any, is a problem.List with every mistake found.
func Load(data []byte, filename string) (*Description, error) {
	d := &Description{
		file:           filename,
		Format:         Delimited,
		Encoding:       "utf-8",
		Delimiter:      ",",
		QuoteChar:      `"`,
		HeaderRowCount: 1,
		ShortLines:     "reject",
		DecimalChar:    ".",
		Layout:         Wide,
	}
	doc, found := strictyaml.Decode(filename, data, d)
	c := checker{d: d, doc: doc, found: found}
	if len(found) == 0 { // what is missing cannot be told from a file half understood
		c.impliedFormat()
		c.identity()
		c.dialect()
		c.time()
		c.series()
		c.messages()
		c.collect()
	}
	c.found.Sort()
	if err := c.found.Err(); err != nil {
		return nil, err
	}
	return d, nil
}

// checker collects what is wrong with the meaning of a description.
type checker struct {
	d     *Description
	doc   *strictyaml.Doc
	found problem.List
}

func (c *checker) bad(path, what, do string) { c.found = append(c.found, c.doc.At(path, what, do)) }

var nameForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,62}$`)

func (c *checker) identity() {
	d := c.d
	if !nameForm.MatchString(d.Name) {
		c.bad("name", fmt.Sprintf("%q is not a source name", d.Name), "write a short word of letters, digits, - and _")
	}
	if len(d.Files) == 0 && d.Collect == nil {
		c.bad("files", "no file pattern", `write which files this describes, such as files: ["bay*.csv"]`)
	}
	for i, p := range d.Files {
		at := fmt.Sprintf("files[%d]", i)
		if strings.ContainsAny(p, `/\`) {
			c.bad(at, fmt.Sprintf("%q has a folder in it", p), "patterns are on the file name alone; folders go under from")
		} else if _, err := path.Match(p, "x"); err != nil || p == "" {
			c.bad(at, fmt.Sprintf("%q is not a file pattern", p),
				"use * for any text, ? for one character, [abc] for one of these")
		}
	}
	for i, f := range d.From {
		if strings.TrimSpace(f) == "" {
			c.bad(fmt.Sprintf("from[%d]", i), "empty path", "write a folder or take the line out")
		}
	}
	oneOf(c, "format", string(d.Format), string(Delimited), string(SenML), string(JSONLines), string(Parquet),
		string(JSON), string(Workbook), string(Aligned), string(Lines), string(Exposed), string(Annotated), string(Plain),
		string(Messages), string(Registers))
	oneOf(c, "layout", string(d.Layout), "wide", "long", "days")
}

func oneOf(c *checker, path, got string, allowed ...string) bool {
	if slices.Contains(allowed, got) {
		return true
	}
	c.bad(path, fmt.Sprintf("%q is not known", got), "write one of "+strings.Join(allowed, ", "))
	return false
}

// encodings maps the spellings in use to the names that decoders know.
var encodings = map[string]string{
	"utf-8": "utf-8", "utf8": "utf-8", "ascii": "utf-8", "us-ascii": "utf-8", "utf-8-sig": "utf-8",
	"utf-16": "utf-16", "utf16": "utf-16", "utf-16le": "utf-16le", "utf-16be": "utf-16be",
	"iso-8859-1": "iso-8859-1", "latin-1": "iso-8859-1", "latin1": "iso-8859-1",
	"windows-1252": "windows-1252", "cp1252": "windows-1252",
}

func (c *checker) dialect() {
	d := c.d
	if e, ok := encodings[strings.ToLower(d.Encoding)]; ok {
		d.Encoding = e
	} else {
		c.bad("encoding", fmt.Sprintf("%q is not known", d.Encoding),
			"write utf-8, utf-16, utf-16le, utf-16be, iso-8859-1 or windows-1252")
	}
	if c.formatKeys(); !d.Tabled() {
		return
	}
	switch strings.ToLower(d.Delimiter) {
	case "tab", `\t`:
		d.Delimiter = "\t"
	}
	if len(d.Delimiter) != 1 || strings.ContainsAny(d.Delimiter, "\n\r\"0123456789") || d.Delimiter[0] >= utf8.RuneSelf {
		c.bad("delimiter", fmt.Sprintf("%q cannot part cells", d.Delimiter), `write one ASCII character such as ";", or tab`)
	}
	if strings.EqualFold(d.QuoteChar, "none") {
		d.QuoteChar = ""
	}
	if len(d.QuoteChar) > 1 || d.QuoteChar != "" && (d.QuoteChar == d.Delimiter || d.QuoteChar[0] >= utf8.RuneSelf) {
		c.bad("quoteChar", fmt.Sprintf("%q cannot quote cells", d.QuoteChar), `write '"', "'" or none`)
	}
	if d.DecimalChar != "." && d.DecimalChar != "," {
		c.bad("decimalChar", fmt.Sprintf("%q is not a decimal sign", d.DecimalChar), `write "." or ","`)
	}
	if !slices.Contains([]string{"", ".", ",", " ", "'", "_", "\u00a0", "\u202f", "\u2019"}, d.GroupChar) ||
		d.GroupChar == d.DecimalChar {
		c.bad("groupChar", fmt.Sprintf("%q cannot mark thousands here", d.GroupChar),
			`write ",", ".", " " or "'", other than the decimal sign`)
	}
	if d.Delimiter == d.GroupChar && d.QuoteChar == "" {
		c.bad("groupChar", "is the delimiter too, and cells are not quoted", "take one of them out")
	}
	if d.SkipRows < 0 || d.SkipRows > 10000 {
		c.bad("skipRows", fmt.Sprintf("%d is not between 0 and 10000", d.SkipRows), "count the title lines before the header")
	}
	if d.HeaderRowCount < 0 || d.HeaderRowCount > 9 {
		c.bad("headerRowCount", fmt.Sprintf("%d is not between 0 and 9", d.HeaderRowCount),
			"count the lines of the header block")
	}
	if d.HeaderStartsWith != "" && (c.doc.Has("skipRows") || d.HeaderRowCount == 0) {
		c.bad("headerStartsWith", "does not go with skipRows or a headerRowCount of 0", "keep one way of finding the header")
	}
	if !c.doc.Has("nameRow") {
		d.NameRow = min(1, d.HeaderRowCount)
	} else if d.NameRow < 1 || d.NameRow > d.HeaderRowCount {
		c.bad("nameRow", fmt.Sprintf("%d is not a line of the header block of %d", d.NameRow, d.HeaderRowCount),
			"1 is the first line of the block")
	}
	if c.doc.Has("unitRow") && (d.UnitRow < 1 || d.UnitRow > d.HeaderRowCount) {
		c.bad("unitRow", fmt.Sprintf("%d is not a line of the header block of %d", d.UnitRow, d.HeaderRowCount),
			"1 is the first line of the block")
	}
	for i, u := range d.CellUnits {
		if strings.TrimSpace(u) == "" || strings.ContainsAny(u[:1], "0123456789+-.,") {
			c.bad(fmt.Sprintf("cellUnits[%d]", i), fmt.Sprintf("%q is no unit", u),
				`write what stands behind the numbers, such as "degC"`)
		}
	}
	for i, p := range d.FooterPrefixes {
		if p == "" {
			c.bad(fmt.Sprintf("footerPrefixes[%d]", i), "empty text would end every file at its first line", "take it out")
		}
	}
	if oneOf(c, "shortLines", d.ShortLines, "reject", "blank") && d.ShortLines == "blank" && d.Layout == Long {
		c.bad("shortLines", "blank means nothing in a long file", "take it out")
	}
}

func (c *checker) time() {
	d := c.d
	if d.Format == SenML || d.Format == Plain || d.Format == Registers {
		for _, k := range []string{"time", "zone"} {
			if c.doc.Has(k) {
				c.bad(k, "means nothing for format "+string(d.Format)+", which has its own times", "take it out")
			}
		}
		d.zone = stamp.UTC
		return
	}
	if !d.Tabled() {
		if c.doc.Has("time.columns") {
			c.bad("time.columns", "the plain form has the column time", "take it out")
		}
		if d.Time.Format == "" {
			d.Time.Format = "rfc3339"
		}
	} else if len(d.Time.Columns) == 0 {
		c.bad("time.columns", "no time column", "write the columns of the time stamp, such as columns: [Date, Time]")
	}
	if d.Time.Format == "" {
		c.bad("time.format", "no time format", "write how the stamp reads, such as yyyy-MM-dd HH:mm:ss")
		return
	}
	if d.Time.Shift != "" {
		by, err := time.ParseDuration(d.Time.Shift)
		if err != nil || by%time.Second != 0 || by.Abs() > 24*time.Hour {
			c.bad("time.shift", fmt.Sprintf("%q is no shift of whole seconds up to a day", d.Time.Shift),
				"write one such as -1h or 15m")
		}
		d.Time.shift = int64(by / time.Second)
	}
	f, err := stamp.Compile(d.Time.Format)
	if err != nil {
		c.bad("time.format", strings.TrimPrefix(err.Error(), "time format "), "")
		return
	}
	d.format = f
	own := f.OwnMoment()
	switch {
	case own && d.Zone != "":
		c.bad("zone", "the stamps of this format carry their own offset", "take zone out")
	case own:
		d.zone = stamp.UTC
	case d.Zone == "":
		c.bad("zone", "no time zone", "write where the logger's clock is set: an IANA name such as Europe/Amsterdam, a fixed offset such as +01:00, or header")
	case d.Zone == ZoneFromHeader && (d.named() || !d.Tabled()):
		c.bad("zone", "files of this format have no header that could state it", "write the zone")
	case d.Zone == ZoneFromHeader:
	default:
		z, err := stamp.ZoneOf(d.Zone)
		if err != nil {
			c.bad("zone", strings.TrimPrefix(err.Error(), "time zone "), "")
			return
		}
		d.zone = z
	}
}

func (c *checker) series() {
	d := c.d
	if !d.Tabled() {
		if d.Format != SenML && c.doc.Has("channel") {
			c.bad("channel", "the plain form has the column channel", "take it out")
		}
		return
	}
	from := d.SensorFrom
	ways := 0
	for _, set := range []bool{from.FileName != "", from.HeaderLine != "", !from.Column.IsZero(), len(from.Columns) > 0} {
		if set {
			ways++
		}
	}
	if ways > 1 {
		c.bad("sensorFrom", "more than one place for the sensor's name",
			"keep one of fileName, headerLine, column and columns")
	}
	d.fileName = c.pattern("sensorFrom.fileName", from.FileName)
	d.headerLine = c.pattern("sensorFrom.headerLine", from.HeaderLine)
	if ways == 1 && d.Sensor == "" {
		d.Sensor = "{1}"
	}
	if (!from.Column.IsZero() || len(from.Columns) > 0) && d.Sensor != "{1}" {
		c.bad("sensor", "a sensor column names the sensor itself", "take sensor out")
	}
	if ways == 0 && strings.Contains(d.Sensor, "{1}") {
		c.bad("sensor", "nothing fills {1}", "say under sensorFrom where the name is found")
	}
	if d.Layout != Days && c.doc.Has("days") {
		c.bad("days", "the layout is "+string(d.Layout), "take days out, or set layout: days")
	}
	switch d.Layout {
	case Long:
		c.long(ways)
	case Days:
		c.days()
	default:
		c.wide()
	}
}

func (c *checker) days() {
	d := c.d
	for _, k := range []string{"columns", "long"} {
		if c.doc.Has(k) {
			c.bad(k, "the layout is days", "take it out, or set another layout")
		}
	}
	if d.Channel == "" {
		c.bad("channel", "no channel", "write what the values measure, as in register/sensors.csv")
	}
	if d.Sensor == "" {
		c.bad("sensor", "no sensor", "write one name, or where it is found under sensorFrom")
	}
	if d.Days.First.IsZero() {
		c.bad("days.first", "no first column", "write the column that holds the first value of the day")
	} else if d.HeaderRowCount == 0 && d.Days.First.Position == 0 {
		c.bad("days.first", "a file without header has no column names", "write the position")
	}
	if n := d.Days.Count; n < 2 || n > 1440 || 1440%n != 0 {
		c.bad("days.count", fmt.Sprintf("%d columns do not part a day into even minutes", n),
			"write how many columns the day has, such as 24, 48 or 96")
	}
	at, err := time.Parse("15:04", cmp.Or(d.Days.Begin, "00:00"))
	if err != nil {
		c.bad("days.begin", fmt.Sprintf("%q is no time of day", d.Days.Begin), "write one such as 00:00 or 00:15")
	}
	d.Days.begin = at.Hour()*3600 + at.Minute()*60
	if d.format != nil && d.format.Form != stamp.Calendar {
		c.bad("time.format", "a day a line needs a date in its stamp", "write how the date reads, such as dd.MM.yyyy")
	}
}

func (c *checker) pattern(path, expr string) *regexp.Regexp {
	if expr == "" {
		return nil
	}
	re, err := regexp.Compile(expr)
	if err != nil {
		c.bad(path, fmt.Sprintf("%q is not a regular expression (%v)", expr, err), "write one such as ^bay([0-9]+)_")
		return nil
	}
	if re.NumSubexp() == 0 && !strings.HasPrefix(path, "columns") {
		c.bad(path, "the pattern has no group", "put parentheses round the part that is the sensor's name")
	}
	return re
}

func (c *checker) long(ways int) {
	d := c.d
	if len(d.Columns) > 0 {
		c.bad("columns", "a long file has its columns under long", "take columns out, or set layout: wide")
	}
	if d.Long.Value.IsZero() {
		c.bad("long.value", "no value column", "write the column that holds the value")
	}
	switch {
	case d.Long.Sensor.IsZero() && d.Sensor == "" && ways == 0:
		c.bad("long.sensor", "no sensor", "write the column that holds it, or one name under sensor")
	case !d.Long.Sensor.IsZero() && (d.Sensor != "" || ways > 0):
		c.bad("long.sensor", "the sensor is named twice", "keep long.sensor, or sensor")
	}
	switch {
	case d.Long.Channel.IsZero() && d.Channel == "":
		c.bad("long.channel", "no channel", "write the column that holds it, or one name under channel")
	case !d.Long.Channel.IsZero() && d.Channel != "":
		c.bad("long.channel", "the channel is named twice", "keep long.channel, or channel")
	}
	c.flags("long", d.Long.Flag, d.Long.GoodFlags)
}

func (c *checker) flags(path string, flag Ref, good []string) {
	if flag.IsZero() != (len(good) == 0) {
		c.bad(path, "flag and goodFlags go together", `write both, such as {flag: Status, goodFlags: ["", OK]}`)
	}
}

func (c *checker) wide() {
	d := c.d
	if c.doc.Has("long") {
		c.bad("long", "the layout is wide", "take long out, or set layout: long")
	}
	if c.doc.Has("channel") {
		c.bad("channel", "a wide file has a channel a column", "take it out")
	}
	if len(d.Columns) == 0 {
		c.bad("columns", "no value column", "write a line such as - {name: PAR, channel: ppfd}")
	}
	for i := range d.Columns {
		col := &d.Columns[i]
		at := fmt.Sprintf("columns[%d]", i)
		ways := 0
		for _, set := range []bool{col.Name != "", col.Position != 0, col.Match != ""} {
			if set {
				ways++
			}
		}
		if ways != 1 {
			c.bad(at, "needs exactly one of name, position and match", "say once which column is meant")
		}
		if col.Position < 0 || col.Position > MaxColumns {
			c.bad(at+".position", fmt.Sprintf("%d is not between 1 and %d", col.Position, MaxColumns), "1 is the first column")
		}
		if d.HeaderRowCount == 0 && col.Position == 0 {
			c.bad(at, "a file without header has no column names", "use position")
		}
		col.match = c.pattern(at+".match", col.Match)
		if col.Channel == "" {
			c.bad(at+".channel", "no channel", "write what this column measures, as in register/sensors.csv")
		}
		if col.Sensor == "" && d.Sensor == "" {
			c.bad(at+".sensor", "no sensor", "write one here, or one for all columns under sensor")
		}
		c.flags(at, col.Flag, col.GoodFlags)
	}
	if d.HeaderRowCount == 0 {
		for i, r := range d.Time.Columns {
			if r.Position == 0 {
				c.bad(fmt.Sprintf("time.columns[%d]", i), "a file without header has no column names", "write the position")
			}
		}
	}
}
