package inspect

import (
	"bufio"
	"bytes"
	"fmt"
	"slices"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/tabled"
	"wane/ingest/decode/unwrap"
	"wane/ingest/decode/workbook"
)

func (s *sample) isWorkbook() bool { return bytes.HasPrefix(s.raw, []byte("PK\x03\x04")) }

// proposeWorkbook is the form of spreadsheet workbooks. Each sheet that holds
// anything is understood as a table; of several that are, a person picks.
func proposeWorkbook(s *sample, a Answers, rep *Report) (_ *proposal, err error) {
	if !s.isWorkbook() {
		return nil, nil
	}
	b, err := workbook.Open(s.name, bytes.NewReader(s.raw), bufio.NewReader(bytes.NewReader(s.raw)), unwrap.Default)
	if err != nil {
		return nil, err
	}
	defer b.Close() // it was only read
	all := b.Sheets()
	var names []string
	var best *table
	var why error
	for _, name := range all {
		t, err := understandSheet(s, a, b, name)
		if err != nil {
			why = fmt.Errorf("sheet %q: %w", name, err)
			continue
		}
		if names = append(names, name); best == nil || len(t.recs) > len(best.recs) {
			best = t
		}
	}
	if best == nil {
		if why == nil {
			return nil, &emit.FileError{File: s.name, What: "no sheet of the workbook holds a table",
				Do: "is it the right file?"}
		}
		return nil, why
	}
	rep.add(Finding{"form", "workbook", Certain, fmt.Sprintf("an .xlsx with %d sheets that hold something", len(all))})
	picked := slices.Clone(best.as.lines[1:])
	best.as.lines = best.as.lines[:1]
	if len(names) > 1 {
		q := Question{Key: "sheet", Text: "which sheet holds the readings?"}
		for _, n := range names {
			best.as.lines = append(best.as.lines, fmt.Sprintf("# sheet: %s   # decide", quote(n)))
			q.Choices = append(q.Choices, "sheet: "+quote(n))
		}
		best.as.standIn = append([]string{best.as.lines[0]}, picked...)
		rep.add(Finding{"sheet", "", Asked, "a time and numbers are on " + strings.Join(names, ", ")})
		best.report.Questions = append(best.report.Questions, q)
	} else if len(all) > 1 {
		best.as.lines = append(best.as.lines, picked...)
		rep.add(Finding{"sheet", names[0], Certain, "the only one with a time and numbers"})
	}
	return best.proposeAs(rep)
}

func understandSheet(s *sample, a Answers, b *workbook.Book, name string) (*table, error) {
	var t *table
	for _, decimal := range []string{".", ","} {
		rows, err := b.Rows(name, decimal)
		if err != nil {
			return nil, err
		}
		text, err := tableText(nil, rows)
		if err := rows.Close(); err != nil {
			return nil, err
		}
		if err != nil {
			return nil, err
		}
		if t, err = understandAs(s, a, &otherForm{lines: []string{"format: workbook", "sheet: " + quote(name)}},
			text); err != nil {
			return nil, err
		}
		if string(t.decimal) == decimal { // the workbook's own numbers are written like those in texts
			break
		}
	}
	return t, nil
}

// tableBytes is about how much text is made of a file that is no text.
const tableBytes = 8 << 20

// tableText appends rows as text, as many as are looked at.
func tableText(text []byte, rows tabled.Rows) ([]byte, error) {
	for len(text) < tableBytes {
		cells, err := rows.Next()
		if err != nil {
			if _, damaged := err.(*emit.FileError); damaged && len(text) == 0 {
				return nil, err
			}
			break // the end, or damage that the trial shows
		}
		text = tabled.AppendRow(text, cells)
	}
	return text, nil
}
