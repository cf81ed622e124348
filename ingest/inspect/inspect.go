// Package inspect looks at an unknown logger file, says what it sees and how
// sure it is, and proposes a source description.
//
//  1. A sample of the file is unwrapped and its encoding told (sample.go).
//  2. The forms are asked in turn whether the file is theirs; the first that
//     says so writes a description (forms.go). A new kind of file is one more
//     form.
//  3. The description is tried on the file with the decoders themselves, so that
//     the rows shown are those that ingest would store, and the result is checked
//     before it is believed (trial.go, check.go), whatever form proposed it.
//
// The form of text tables goes in steps of its own:
//
//  1. Delimiter and decimal sign are those with which most cells make sense
//     (dialect.go).
//  2. The time stamp is found by trying patterns (times.go, candidates.go, fitting.go); the first line that
//     has one ends the header (header.go).
//  3. The other columns get a role, a quantity and a unit from their names and
//     values (columns.go, words.go), and are called by the quantity where nothing
//     speaks against it (named.go); numbers that no name speaks for and that behave like
//     codes, counts or settings are left out, with the line that stores them (said.go).
//  4. What the description takes for granted is proven by the file, or asked
//     (claims.go, twice.go).
//  5. The description is written (propose.go).
//
// What the file cannot tell is asked, never guessed: whether 3/4 is in March or
// April where no day is above 12, and the zone of a clock that states none. An
// open question leaves a commented line in the proposal, which does not load
// until a person has decided.
//
// Everything is a function of the bytes, the name and the answers.
package inspect

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"time"

	"wane/ingest/decode"
	"wane/ingest/decode/emit"
	"wane/ingest/decode/stamp"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// Sure says how well founded a finding is.
type Sure string

// The degrees.
const (
	Certain Sure = "certain" // the file allows nothing else
	Likely  Sure = "likely"  // the usual meaning; look at it
	Asked   Sure = "asked"   // the file does not tell: decide
)

// Finding is one thing seen about the file as a whole.
type Finding struct {
	What     string `json:"what"`
	Value    string `json:"value"`
	Sure     Sure   `json:"sure"`
	Evidence string `json:"evidence"`
}

// Column is one column of the file as understood.
type Column struct {
	Position int    `json:"position"` // 1 is the first
	Name     string `json:"name"`
	// Role is time, sensor, channel or value; of what is left out flag, record number, id, other time, zone, beside
	// the day, unsaid, setting, copy, text or empty.
	Role     string `json:"role"`
	Quantity string `json:"quantity,omitempty"`
	Unit     string `json:"unit,omitempty"`
	Sensor   string `json:"sensor,omitempty"`  // as proposed, where the column has one of its own
	Channel  string `json:"channel,omitempty"` // as proposed
	Sure     Sure   `json:"sure"`
	Evidence string `json:"evidence"`

	light   bool // not of photons: its channel is light, and it needs a factor
	missing []string
	family  string // the item of the description that stands for it and its like; "" where it has its own
}

// Question is what a person must decide before the proposal loads.
type Question struct {
	Key     string   `json:"key"` // the key of the description
	Text    string   `json:"text"`
	Choices []string `json:"choices,omitempty"`
}

// Row is one reading as the proposal understands it. Time is RFC 3339 in UTC, or
// local without offset while the zone is open.
type Row struct {
	Line    int    `json:"line"`
	Time    string `json:"time"`
	Sensor  string `json:"sensor"`
	Channel string `json:"channel"`
	Value   string `json:"value"`
}

// Report is all that was found.
type Report struct {
	File      string           `json:"file"`
	Kind      decode.Kind      `json:"kind"`
	Findings  []Finding        `json:"findings"`
	Columns   []Column         `json:"columns"`
	Rows      []Row            `json:"rows"`     // the first ones
	Readings  int64            `json:"readings"` // of the sample
	Rejects   []reading.Reject `json:"rejects"`  // of the sample, the first ones
	Checks    []Check          `json:"checks"`   // what speaks against the trial's result
	Questions []Question       `json:"questions"`
	Source    string           `json:"source"`   // the name proposed for the description
	Proposal  string           `json:"proposal"` // YAML; "" where no description is needed
}

// Answers are decisions already made, "" where none is.
type Answers struct {
	Zone  string // IANA name or offset
	Order string // "dmy", "mdy" or "ymd"

	Now time.Time // of the run; readings more than a day after it are a misreading; zero for no such check

	Decimal string // "," or ".": which of them parts the decimals

	Interval string // "begin" or "end": where the value of an interval is stored
}

const (
	showRows    = 12
	showRejects = 12
)

// File inspects a file. It reads no more of it than a sample, except where a
// zip must be read from its end.
func File(name string, r io.Reader) (*Report, error) { return FileWith(name, r, Answers{}) }

// FileWith inspects a file with some questions answered beforehand.
func FileWith(name string, r io.Reader, a Answers) (*Report, error) {
	s, err := take(name, r)
	if err != nil {
		return nil, err
	}
	rep := &Report{File: name, Kind: s.kind}
	rep.add(s.findings...)
	switch s.kind {
	case decode.Survey:
		rep.add(Finding{"form", "survey sheet", Certain, "its header is that of the survey form; no description is needed"})
		return rep, nil
	case decode.PlainCSV, decode.PlainJSON, decode.PlainParquet, decode.SenML:
		rep.add(Finding{"form", string(s.kind), Certain, "this form is always read; no description is needed"})
		rep.tryProposal(nil, s, a.Now)
		return rep, nil
	}
	return describe(s, a, rep)
}

func (r *Report) add(f ...Finding) { r.Findings = append(r.Findings, f...) }

// Open tells whether a person must decide something before the proposal loads.
func (r *Report) Open() bool { return len(r.Questions) > 0 }

// table is a delimited file while it is being understood.
type table struct {
	*sample
	answers Answers
	report  *Report
	as      *otherForm // nil for text

	delim       byte
	decimal     byte
	group       string
	decimalOpen bool
	recs        []record
	width       int     // cells of a usual line
	fit         float64 // how well the delimiter explains the lines

	times      []int // columns of the stamp
	format     string
	order      string   // of the date, where its digits allowed another
	byOrder    []string // one format an order of the date, while that is open
	first      int      // index in recs of the first data line
	block      []int    // indices in recs of the header block
	placed     []string // names where the head has one for a stamp of two cells: columns are told by position
	placedUnit []string
	nameRow    int // 1 = first line of the block, 0 for no header
	unitRow    int
	comment    string
	saidCodes  []string // numbers for no value that a title line tells
	footer     string
	zone       string // "" while open or not needed
	zoneOpen   bool
	columns    []Column
	nameCount  map[string]int
	stamped    []bool // by record: its stamp reads
	sensor     sensorAt
	sensorOpen []int // columns that could name the sensor, while that is open
	mixed      bool  // rows of one time differ, and nothing tells them apart
	long       bool
	days       dayRun   // a day a line; count is 0 for other tables
	shift      string   // of the time; "" for none
	leftOut    []string // columns that are not stored, and why
	cellUnits  []string // units that stand in the cells
}

// understand fills the table step by step.
func (t *table) understand() error {
	if err := t.dialect(); err != nil {
		return err
	}
	if err := t.findTime(); err != nil {
		return err
	}
	t.findHeader()
	if err := t.soundWidth(); err != nil {
		return err
	}
	t.findZone()
	t.findDays()
	t.findColumns()
	t.keepSaid()
	t.tellApart()
	t.decideLayout()
	t.findSensor()
	t.nameSeries()
	t.sayLeftOut()
	t.prove()
	for _, c := range t.columns {
		if c.Role == "value" {
			t.report.Columns = t.columns
			return nil
		}
	}
	return &emit.FileError{File: t.name, What: "no column of numbers beside the time was found",
		Do: "write the description by hand"}
}

// findZone says where the clock is set.
func (t *table) findZone() {
	f, err := stamp.Compile(t.anyFormat())
	if err == nil && f.OwnMoment() {
		t.report.add(Finding{"zone", "in the stamps", Certain, "each stamp says its moment by itself"})
		return
	}
	cities := t.zoneOfCities()
	for i := range t.first {
		r := t.recs[i]
		cells := r.cells
		if slices.Contains(t.block, i) {
			cells = t.ownHeads(cells)
		}
		_, ok := stamp.OffsetInHeader(cells, t.times)
		if !slices.Contains(t.block, i) {
			_, ok = stamp.OffsetIn(r.text)
			ok = ok && cities.text == ""
		}
		if ok {
			t.zone = source.ZoneFromHeader
			t.report.add(Finding{"zone", source.ZoneFromHeader, Certain,
				fmt.Sprintf("line %d states an offset: %s", r.line, clip(r.text))})
			return
		}
	}
	if name, line, own := t.zoneInHead(); name != "" && (own || t.answers.Zone == "") {
		t.zone = name
		t.report.add(Finding{"zone", name, sureIf(own), fmt.Sprintf("line %d names it", line)})
		return
	} else if name != "" && name != t.answers.Zone {
		t.ask("zone", fmt.Sprintf("line %d names the zone %s, and %s was answered: which one is the logger's clock set to?",
			line, name, t.answers.Zone))
	}
	if t.answers.Zone != "" {
		t.zone = t.answers.Zone
		t.report.add(Finding{"zone", t.zone, Certain, "as answered"})
		return
	}
	t.zoneOpen = true
	evidence := "neither the stamps nor the header state it"
	if cities.text != "" {
		evidence = fmt.Sprintf("line %d names a zone by its offset in winter and cities, and not whether the clock was "+
			"put forward in summer: %s", cities.line, clip(cities.text))
	}
	t.report.add(Finding{"zone", "", Asked, evidence})
	t.ask("zone", "where is the logger's clock set? An IANA name if it follows daylight saving, a fixed offset if it keeps one "+
		"time all year")
}

// offsetOfCities is a zone as operating systems list it, whose clocks may be put forward in summer all the same:
// (UTC+01:00) Amsterdam, Oslo, Vienna.
var offsetOfCities = regexp.MustCompile(`\((?:UTC|GMT)(?:[+-]\d{1,2}:\d{2})?\)[ ,]+\pL{3}`)

// zoneOfCities is the title line that lists a zone by its cities.
func (t *table) zoneOfCities() record {
	for i, r := range t.recs[:t.first] {
		if !slices.Contains(t.block, i) && offsetOfCities.MatchString(r.text) {
			return r
		}
	}
	return record{}
}

// ownHeads blanks the names of columns that hold something else than the stamp: a column
// named UTC says nothing of the others' clock.
func (t *table) ownHeads(cells []string) []string {
	out := slices.Clone(cells)
	for c := range out {
		if !t.isTimeColumn(c) && slices.ContainsFunc(t.recs[t.first:],
			func(r record) bool { return c < len(r.cells) && r.cells[c] != "" }) {
			out[c] = ""
		}
	}
	return out
}

// anyFormat is the time format, or one of those that are still open.
func (t *table) anyFormat() string {
	if len(t.byOrder) > 0 {
		return t.byOrder[0]
	}
	return t.format
}
