package surveysheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"wane/ingest/decode/stamp"
	"wane/transform/survey"
)

// header holds the columns of the plain form.
var header = []string{"survey", "taken_at", "fixture", "height_m", "row", "col", "ppfd"}

// Header gives the plain form's first line.
func Header() string { return strings.Join(header, ",") }

// IsPlain says whether data begins like the plain form.
func IsPlain(data []byte) bool {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	line, _, _ := bytes.Cut(data, []byte("\n"))
	first := strings.ToLower(strings.TrimSpace(string(line)))
	return strings.HasPrefix(strings.ReplaceAll(first, `"`, ""), "survey,") || first == "survey"
}

// building is a survey being gathered.
type building struct {
	s    survey.Survey
	line int
	rows int            // lines stored
	seen map[[2]int]int // spot to the line that gave it
	raw  map[string]bool
}

// sheet is a file of the plain form being read.
type sheet struct {
	res   Result
	order []*building
	byID  map[string]*building
}

// ParsePlain reads the plain form. The error is for what is wrong with the file
// as a whole (its header, its size); lines are rejected one by one.
func ParsePlain(r io.Reader) (Result, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return Result{}, fmt.Errorf("read survey sheet: %w", err)
	}
	if len(data) > MaxBytes {
		return Result{}, fmt.Errorf("survey sheet is over %d MiB; split it by survey", MaxBytes>>20)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	cr := csv.NewReader(bytes.NewReader(data))
	cr.FieldsPerRecord = -1
	cr.ReuseRecord = true
	if err := readHeader(cr); err != nil {
		return Result{}, err
	}
	sh := sheet{byID: map[string]*building{}}
	for {
		rec, err := cr.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		sh.res.Rows++
		if err != nil {
			line, why := 0, err.Error()
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				line, why = pe.StartLine, pe.Err.Error()
			}
			sh.reject(line, "line is no CSV: %s; check its quotes", why)
			continue
		}
		line, _ := cr.FieldPos(0)
		sh.add(line, rec)
	}
	sh.finish()
	return sh.res, nil
}

// readHeader reads the first line, which must be the plain form's.
func readHeader(cr *csv.Reader) error {
	head, err := cr.Read()
	if err != nil {
		return fmt.Errorf("survey sheet has no readable header; the first line must be %s", Header())
	}
	for i, h := range head {
		if i >= len(header) || strings.ToLower(strings.TrimSpace(h)) != header[i] {
			return fmt.Errorf("survey sheet: column %d is %q; the first line must be %s", i+1, clip(h), Header())
		}
	}
	if len(head) != len(header) {
		return fmt.Errorf("survey sheet: %d columns in the header; the first line must be %s", len(head), Header())
	}
	return nil
}

func (sh *sheet) reject(line int, format string, a ...any) {
	sh.res.Rejects = append(sh.res.Rejects, Reject{line, fmt.Sprintf(format, a...)})
}

// add takes a line's reading to its survey, or rejects the line.
func (sh *sheet) add(line int, rec []string) {
	for i := range rec {
		rec[i] = strings.TrimSpace(rec[i])
	}
	if len(rec) != len(header) {
		why := ""
		if len(rec) == len(header)+1 {
			why = "; a decimal comma must stand in quotes, or be a point"
		}
		sh.reject(line, "%d fields, not %d%s", len(rec), len(header), why)
		return
	}
	b, spot, empty, why := oneLine(rec, sh.byID, line)
	if why != "" {
		sh.reject(line, "%s", why)
		return
	}
	if b.line == line && b.rows == 0 {
		sh.order = append(sh.order, b)
		sh.byID[b.s.ID] = b
	}
	key := strings.Join(rec, "\x00")
	at := [2]int{spot.Row, spot.Col}
	if before, ok := b.seen[at]; ok {
		if b.raw[key] {
			sh.res.Duplicates++
			return
		}
		sh.reject(line, "row %d column %d of survey %s was given on line %d with another value; keep one, or give the "+
			"second round its own survey name", spot.Row, spot.Col, b.s.ID, before)
		return
	}
	b.seen[at], b.raw[key] = line, true
	b.rows++
	b.s.Rows, b.s.Cols = max(b.s.Rows, spot.Row), max(b.s.Cols, spot.Col)
	if !empty {
		b.s.Spots = append(b.s.Spots, spot)
	}
}

// finish keeps the surveys that are whole. Every line of one that is not goes
// the same way, so that the count stays whole.
func (sh *sheet) finish() {
	for _, b := range sh.order {
		if err := b.s.Check(); err != nil {
			for _, l := range b.seen {
				sh.reject(l, "%s", err)
			}
			continue
		}
		sh.res.Stored += b.rows
		sh.res.Surveys = append(sh.res.Surveys, b.s)
	}
	sort.SliceStable(sh.res.Rejects, func(i, j int) bool { return sh.res.Rejects[i].Line < sh.res.Rejects[j].Line })
}

// oneLine reads one line; why is not empty where it is refused. The survey is
// the one already begun under that name, or a new one that the caller keeps.
func oneLine(rec []string, byID map[string]*building,
	line int) (b *building, spot survey.Spot, empty bool, why string) {
	id := rec[0]
	if id == "" {
		return nil, spot, false, "survey has no name; give each survey one of its own"
	}
	for _, name := range []string{rec[0], rec[2]} {
		if !utf8.ValidString(name) || len(name) > 200 || strings.ContainsFunc(name, unicode.IsControl) {
			return nil, spot, false, fmt.Sprintf("name %q: a name is UTF-8 text on one line, at most 200 bytes", clip(name))
		}
	}
	at, err := stamp.RFC3339Time(rec[1])
	if err != nil || at.UTC().Year() < 1990 || at.UTC().Year() > 2200 {
		return nil, spot, false, fmt.Sprintf("taken_at %q is not an RFC 3339 time with a zone, from 1990 on; write it "+
			"like 2025-03-01T09:30:00+01:00", clip(rec[1]))
	}
	if rec[2] == "" {
		return nil, spot, false, "fixture is empty; name the fixture that was surveyed"
	}
	height := 0.0
	if rec[3] != "" {
		height, err = number(rec[3])
		if err != nil || height <= 0 || height > 100 {
			return nil, spot, false, fmt.Sprintf("height_m %q is not a height in metres from 0 to 100; correct it or "+
				"leave it empty", clip(rec[3]))
		}
	}
	row, errR := strconv.Atoi(rec[4])
	col, errC := strconv.Atoi(rec[5])
	if errR != nil || errC != nil || row < 1 || col < 1 || row > survey.MaxSide || col > survey.MaxSide {
		return nil, spot, false, fmt.Sprintf("row %q column %q: both count from 1 to %d",
			clip(rec[4]), clip(rec[5]), survey.MaxSide)
	}
	spot = survey.Spot{Row: row, Col: col}
	if empty = missing(rec[6]); !empty {
		if spot.PPFD, err = ppfd(rec[6]); err != nil {
			return nil, spot, false, err.Error()
		}
	}
	b = byID[id]
	if b == nil {
		b = &building{line: line, seen: map[[2]int]int{}, raw: map[string]bool{},
			s: survey.Survey{ID: id, TakenAt: at.UTC(), Fixture: rec[2], HeightM: height}}
		return b, spot, empty, ""
	}
	switch {
	case b.s.Fixture != rec[2]:
		why = fmt.Sprintf("survey %s is of fixture %s on line %d and of %s here; give each its own survey name", clip(id),
			clip(b.s.Fixture), b.line, clip(rec[2]))
	case b.s.HeightM != height:
		why = fmt.Sprintf("survey %s has height %v m on line %d and %v m here; one survey has one height", clip(id),
			b.s.HeightM, b.line, height)
	case !b.s.TakenAt.Equal(at):
		why = fmt.Sprintf("survey %s was taken at %s on line %d and at %s here; one survey has one time", clip(id),
			b.s.TakenAt.Format(time.RFC3339), b.line, clip(rec[1]))
	}
	return b, spot, empty, why
}

// Write gives surveys in the plain form, spots by number, spots not read empty.
// Reading it again gives the same surveys, conditions and geometry apart.
func Write(w io.Writer, surveys []survey.Survey) error {
	cw := csv.NewWriter(w)
	if err := cw.Write(header); err != nil {
		return fmt.Errorf("write survey sheet: %w", err)
	}
	for _, s := range surveys {
		if err := s.Check(); err != nil {
			return err
		}
		rows, cols := s.Size()
		at := map[[2]int]float64{}
		for _, p := range s.Spots {
			at[[2]int{p.Row, p.Col}] = p.PPFD
		}
		h := ""
		if s.HeightM > 0 {
			h = strconv.FormatFloat(s.HeightM, 'f', -1, 64)
		}
		for r := 1; r <= rows; r++ {
			for c := 1; c <= cols; c++ {
				v := ""
				if y, ok := at[[2]int{r, c}]; ok {
					v = strconv.FormatFloat(y, 'f', -1, 64)
				}
				if err := cw.Write([]string{s.ID, s.TakenAt.UTC().Format(time.RFC3339Nano), s.Fixture, h, strconv.Itoa(r),
					strconv.Itoa(c), v}); err != nil {
					return fmt.Errorf("write survey sheet: %w", err)
				}
			}
		}
	}
	cw.Flush()
	return cw.Error()
}
