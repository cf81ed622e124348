package register

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/problem"
	"wane/transform/survey"
)

// SurveysFile holds what stood beside the canopy surveys and has no column in
// the plain form of a survey sheet. It may be missing.
const SurveysFile = "register/surveys.csv"

// SurveyColumns are its columns. A row speaks of a whole survey where spots is
// empty; a row with spots (numbers and ranges, "1-10, 25") says with which
// sensor those were read, and nothing else.
var SurveyColumns = []string{"survey", "spots", "sensor", "supply_v", "power_w", "ambient_c", "warm_up_min",
	"spacing_m", "footprint_m2", "note"}

// SurveyOptional are columns that the file may lack: where the rows and columns of
// an uneven grid lie, metres parted by spaces.
var SurveyOptional = []string{"rows_at_m", "columns_at_m"}

// LoadSurveys reads register/surveys.csv below the site folder; a site without
// the file has no notes. The error is a problem.List where it cannot be used.
func LoadSurveys(dir string) (map[string]*survey.Note, error) {
	data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(SurveysFile)))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read register: %w", err)
	}
	notes, found := ParseSurveys(data)
	return notes, found.Err()
}

// ParseSurveys reads and checks the table; the notes are complete only where
// the list is empty.
func ParseSurveys(data []byte) (map[string]*survey.Note, problem.List) {
	t := read(SurveysFile, data, SurveyColumns, SurveyOptional...)
	out := map[string]*survey.Note{}
	note := func(id string, line int) *survey.Note {
		if out[id] == nil {
			out[id] = &survey.Note{Survey: id, File: SurveysFile, Line: line}
		}
		return out[id]
	}
	whole := map[string]int{}
	for _, w := range t.rows {
		id := w.need("survey")
		if id == "" {
			continue
		}
		n := note(id, w.line)
		if w.get("spots") != "" {
			w.spots(n)
			continue
		}
		if before := whole[id]; before > 0 {
			w.bad("survey", fmt.Sprintf("%s has a row on line %d already", id, before),
				"keep one; a second sensor goes into a row that names its spots")
			continue
		}
		whole[id] = w.line
		optional := func(field string, lo, hi float64, unit string) *float64 {
			if w.get(field) == "" {
				return nil
			}
			v := w.number(field, 0, lo, hi, unit)
			return &v
		}
		n.Conditions = survey.Conditions{
			SupplyV: optional("supply_v", 0, 1000, "volts"), AmbientC: optional("ambient_c", -90, 90, "degrees Celsius"),
			WarmUpMin: optional("warm_up_min", 0, 100000, "minutes"), PowerW: optional("power_w", 0, 100000, "watts"),
			Sensor: w.get("sensor"),
		}
		n.SpacingM = w.number("spacing_m", 0, 0, 100, "metres")
		n.FootprintM2 = w.number("footprint_m2", 0, 0, 1e6, "square metres")
		n.RowAtM, n.ColAtM = w.positions("rows_at_m"), w.positions("columns_at_m")
		if (w.get("rows_at_m") == "") != (w.get("columns_at_m") == "") {
			w.bad("rows_at_m", "one of rows_at_m and columns_at_m is empty",
				"an uneven grid needs where its rows lie and where its columns lie")
		}
	}
	t.found.Sort()
	return out, t.found
}

// positions reads distances that rise, parted by spaces.
func (w row) positions(field string) (at []float64) {
	for _, text := range strings.Fields(w.get(field)) {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v >= 0 && v <= 1000) || len(at) > 0 && v <= at[len(at)-1] {
			w.bad(field, fmt.Sprintf("%q is no rising list of metres", w.get(field)),
				"write where each line lies, such as 0 0.3 0.8")
			return nil
		}
		at = append(at, v)
	}
	return at
}

// spots reads a row that names who read some of the spots.
func (w row) spots(n *survey.Note) {
	sensor := w.need("sensor")
	for _, c := range []string{"supply_v", "power_w", "ambient_c", "warm_up_min", "spacing_m", "footprint_m2", "rows_at_m",
		"columns_at_m"} {
		if w.get(c) != "" {
			w.bad(c, "a row that names spots holds a sensor only", "write it in the survey's row without spots")
		}
	}
	list, err := SpotList(w.get("spots"))
	if err != nil {
		w.bad("spots", err.Error(), "write numbers and ranges such as 1-10, 25")
		return
	}
	if n.Sensors == nil {
		n.Sensors = map[int]string{}
	}
	for _, k := range list {
		if before, ok := n.Sensors[k]; ok && before != sensor {
			w.bad("spots", fmt.Sprintf("spot %d was read with %s already", k, before), "one spot has one sensor")
			return
		}
		n.Sensors[k] = sensor
	}
}

// SpotList reads spot numbers and ranges: "1-10, 25".
func SpotList(s string) ([]int, error) {
	var out []int
	for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
		a, b, ranged := strings.Cut(part, "-")
		if !ranged {
			b = a
		}
		lo, err1 := strconv.Atoi(a)
		hi, err2 := strconv.Atoi(b)
		if err1 != nil || err2 != nil || lo < 1 || hi < lo || hi > survey.MaxSide*survey.MaxSide {
			return nil, fmt.Errorf("%q is no spot number or range", part)
		}
		for k := lo; k <= hi; k++ {
			out = append(out, k)
		}
	}
	if len(out) == 0 {
		return nil, errors.New("no spot is named")
	}
	return out, nil
}

// AddSurvey gives the text of surveys.csv with rows of one survey added, by
// column name. Rows that the file has already are not added again; a survey of
// which it says something else is an error.
func AddSurvey(old []byte, id string, rows []map[string]string) ([]byte, error) {
	if len(rows) == 0 {
		return old, nil
	}
	if len(bytes.TrimSpace(old)) == 0 {
		head := slices.Clone(SurveyColumns)
		for _, c := range SurveyOptional {
			if slices.ContainsFunc(rows, func(r map[string]string) bool { return r[c] != "" }) {
				head = append(head, c)
			}
		}
		old = []byte(strings.Join(head, ",") + "\n")
	}
	t := read(SurveysFile, old, SurveyColumns, SurveyOptional...)
	if err := t.found.Err(); err != nil {
		return nil, err
	}
	for _, c := range SurveyOptional {
		if !slices.Contains(t.names, c) && slices.ContainsFunc(rows, func(r map[string]string) bool { return r[c] != "" }) {
			old = widen(old, c)
		}
	}
	if t = read(SurveysFile, old, SurveyColumns, SurveyOptional...); t.found.Err() != nil {
		return nil, t.found.Err()
	}
	var has []row
	for _, w := range t.rows {
		if w.get("survey") == id {
			has = append(has, w)
		}
	}
	same := func(w row, fields map[string]string) bool {
		differs := func(c string) bool { return w.get(c) != fields[c] }
		return !slices.ContainsFunc(SurveyColumns, differs) && !slices.ContainsFunc(SurveyOptional, differs)
	}
	if len(has) > 0 {
		for _, r := range rows {
			if !slices.ContainsFunc(has, func(w row) bool { return same(w, r) }) {
				return nil, fmt.Errorf("%s says something else of survey %s already; correct it there, or give this survey a name of its own", SurveysFile, id)
			}
		}
		return old, nil
	}
	next, _, err := Append(SurveysFile, old, rows)
	if err != nil {
		return nil, err
	}
	_, found := ParseSurveys(next)
	return next, found.Err()
}

// widen adds an empty column to a table whose rows are a line each, comments and
// blank lines as they are.
func widen(data []byte, column string) []byte {
	var out []byte
	header := true
	for line := range bytes.Lines(data) {
		text := bytes.TrimRight(line, "\r\n")
		end := line[len(text):]
		switch {
		case len(bytes.TrimSpace(text)) == 0 || text[0] == '#':
			out = append(out, line...)
			continue
		case header:
			out, header = append(append(append(out, text...), ','), column...), false
		default:
			out = append(append(out, text...), ',')
		}
		out = append(out, end...)
	}
	return out
}
