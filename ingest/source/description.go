package source

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"wane/ingest/decode/stamp"
)

// Format is the kind of file.
type Format string

// The formats.
const (
	Delimited Format = "delimited"
	SenML     Format = "senml"
	JSONLines Format = "jsonl"
	Parquet   Format = "parquet"

	Aligned   Format = "aligned"       // text whose columns are parted by blanks or stand at fixed places
	JSON      Format = "json"          // JSON documents as tables
	Workbook  Format = "workbook"      // .xlsx
	Lines     Format = "lines"         // the line protocol of time-series databases
	Exposed   Format = "exposition"    // the text that metrics are exposed in
	Annotated Format = "annotated-csv" // tables with #datatype, #group and #default lines
)

// Layout says whether a line holds a value a column, one value, or a day.
type Layout string

// The layouts of delimited files.
const (
	Wide Layout = "wide"
	Long Layout = "long"
	Days Layout = "days" // a day a line, a column a time of day
)

// Description is one sources/*.yaml, checked and with defaults filled in. It is
// not to be changed after Load and may be shared between goroutines.
type Description struct {
	Name   string   `yaml:"name"`
	Files  []string `yaml:"files"`
	From   []string `yaml:"from"`
	Format Format   `yaml:"format"`

	Encoding         string   `yaml:"encoding"`
	Delimiter        string   `yaml:"delimiter"`
	QuoteChar        string   `yaml:"quoteChar"`
	CommentPrefix    string   `yaml:"commentPrefix"`
	SkipRows         int      `yaml:"skipRows"`
	HeaderStartsWith string   `yaml:"headerStartsWith"`
	HeaderRowCount   int      `yaml:"headerRowCount"`
	NameRow          int      `yaml:"nameRow"`
	UnitRow          int      `yaml:"unitRow"`
	FooterPrefixes   []string `yaml:"footerPrefixes"`
	ShortLines       string   `yaml:"shortLines"`
	DecimalChar      string   `yaml:"decimalChar"`
	GroupChar        string   `yaml:"groupChar"`
	MissingValues    []string `yaml:"missingValues"`
	CellUnits        []string `yaml:"cellUnits"`

	JSON  JSONSpec `yaml:"json"`
	Sheet string   `yaml:"sheet"`

	ColumnStarts []int `yaml:"columnStarts"`

	Zone string `yaml:"zone"`
	Time Time   `yaml:"time"`

	Layout     Layout     `yaml:"layout"`
	Sensor     string     `yaml:"sensor"`
	SensorFrom SensorFrom `yaml:"sensorFrom"`
	Channel    string     `yaml:"channel"`
	Columns    []Column   `yaml:"columns"`
	Long       LongSpec   `yaml:"long"`
	Days       DaysSpec   `yaml:"days"`
	Messages   []Message  `yaml:"messages"`

	Collect *Collect `yaml:"collect"`

	file       string
	format     *stamp.Format
	zone       stamp.Zone
	fileName   *regexp.Regexp
	headerLine *regexp.Regexp
}

// JSONSpec says which values of a JSON document are rows, as JSONPath queries
// (RFC 9535). One of Rows and Lists is set.
type JSONSpec struct {
	Rows  string `yaml:"rows"`
	Lists string `yaml:"lists"`
	Names string `yaml:"names"`
}

// Time says which columns hold the time stamp and how it is written.
type Time struct {
	Columns []Ref  `yaml:"columns"`
	Format  string `yaml:"format"`
	Shift   string `yaml:"shift"`

	shift int64 // seconds
}

// ShiftBy is what is added to each stamp, in seconds of the logger's own clock.
func (t Time) ShiftBy() int64 { return t.shift }

// SensorFrom says where a sensor's name is found when it is not constant. At
// most one of the four is set. The groups of a pattern fill {1}, {2} … of the
// sensor template.
type SensorFrom struct {
	FileName   string `yaml:"fileName"`
	HeaderLine string `yaml:"headerLine"`
	Column     Ref    `yaml:"column"`
	Columns    []Ref  `yaml:"columns"`
}

// Column is one value column of a wide file. Exactly one of Name, Position and
// Match is set; Match is a regular expression on header names and stands for
// every column it fits.
type Column struct {
	Name          string   `yaml:"name"`
	Position      int      `yaml:"position"`
	Match         string   `yaml:"match"`
	Sensor        string   `yaml:"sensor"`
	Channel       string   `yaml:"channel"`
	Unit          string   `yaml:"unit"`
	Flag          Ref      `yaml:"flag"`
	GoodFlags     []string `yaml:"goodFlags"`
	MissingValues []string `yaml:"missingValues"`

	match *regexp.Regexp
}

// Pattern is the compiled Match, nil where there is none.
func (c *Column) Pattern() *regexp.Regexp { return c.match }

// LongSpec names the columns of a long file.
type LongSpec struct {
	Sensor    Ref      `yaml:"sensor"`
	Channel   Ref      `yaml:"channel"`
	Value     Ref      `yaml:"value"`
	Flag      Ref      `yaml:"flag"`
	GoodFlags []string `yaml:"goodFlags"`
}

// DaysSpec says which columns hold the times of a day: Count of them from First on,
// the day parted evenly, the first one at the time of day Begin.
type DaysSpec struct {
	First Ref    `yaml:"first"`
	Count int    `yaml:"count"`
	Begin string `yaml:"begin"`
	Unit  string `yaml:"unit"`

	begin int // seconds after midnight
}

// At is the time of day of the k-th column, in seconds after midnight.
func (s DaysSpec) At(k int) int64 { return int64(s.begin) + int64(k)*86400/int64(s.Count) }

// Ref names a column by header name, or by position when it is written in
// digits only (1 is the first column). The zero Ref names none.
type Ref struct {
	Name     string
	Position int
}

// UnmarshalText reads a name or a position.
func (r *Ref) UnmarshalText(b []byte) error {
	s := strings.TrimSpace(string(b))
	if n, err := strconv.Atoi(s); err == nil {
		if n < 1 || n > MaxColumns {
			return fmt.Errorf("column position %d is not between 1 and %d", n, MaxColumns)
		}
		*r = Ref{Position: n}
		return nil
	}
	if s == "" {
		return fmt.Errorf("column name is empty; write its header name or its position")
	}
	*r = Ref{Name: s}
	return nil
}

// IsZero is true where no column is named.
func (r Ref) IsZero() bool { return r == Ref{} }

// String gives the name in quotes, or "column 3".
func (r Ref) String() string {
	if r.Position > 0 {
		return "column " + strconv.Itoa(r.Position)
	}
	return strconv.Quote(r.Name)
}

// MaxColumns is the most columns a file may have.
const MaxColumns = 16384

// ZoneFromHeader is the Zone of a description whose files state their offset
// in a title or header line ("GMT+02:00").
const ZoneFromHeader = "header"

// File is the name of the description's own file.
func (d *Description) File() string { return d.file }

// Stamp is the compiled time format; nil for formats with a fixed one (SenML).
func (d *Description) Stamp() *stamp.Format { return d.format }

// Location is the zone of the stamps. It is not Valid where each stamp or the
// header states its own.
func (d *Description) Location() stamp.Zone { return d.zone }

// FileNamePattern and HeaderLinePattern are the compiled patterns of
// SensorFrom, nil where there are none.
func (d *Description) FileNamePattern() *regexp.Regexp   { return d.fileName }
func (d *Description) HeaderLinePattern() *regexp.Regexp { return d.headerLine }

// Fill puts the groups of a match into a template: {1} is the first group, {0}
// all that matched.
func Fill(template string, groups []string) string {
	if !strings.Contains(template, "{") {
		return template
	}
	for i, g := range groups {
		template = strings.ReplaceAll(template, "{"+strconv.Itoa(i)+"}", strings.TrimSpace(g))
	}
	return template
}
