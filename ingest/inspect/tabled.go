package inspect

import (
	"slices"
	"strconv"
	"time"
)

// otherForm is a kind of file that is read as a table and is none: what its
// description says in place of how lines part into cells.
type otherForm struct {
	lines   []string // of the description
	standIn []string // the same with something in place of what is open; nil where nothing is
	refs    []string // how it names each column; nil where by the header, as in text
	own     []bool   // by column: it is of the row itself; nil where all are
}

// timeZero sets no upper bound on times.
var timeZero time.Time

// understandAs understands the text of a table that was made from the sample. What
// is seen of it goes to a report of its own.
func understandAs(s *sample, a Answers, as *otherForm, text []byte) (*table, error) {
	made := *s
	made.encoding, made.findings = "utf-8", nil
	made.setText(string(text))
	t := &table{sample: &made, answers: a, report: &Report{File: s.name}, as: as}
	return t, t.understand()
}

// proposeAs gives the proposal of a table made from another form, and hands what
// was seen of it on to the file's report.
func (t *table) proposeAs(rep *Report) (*proposal, error) {
	own := t.report
	p := t.proposal()
	for _, f := range own.Findings {
		if !slices.Contains([]string{"delimiter", "encoding", "header", "decimal sign"}, f.What) || t.as.refs == nil &&
			f.What == "header" {
			rep.add(f)
		}
	}
	for i := range own.Columns {
		if t.as.refs != nil {
			own.Columns[i].Name = t.as.refs[i]
		}
	}
	rep.Columns, rep.Questions = own.Columns, own.Questions
	return p, nil
}

// apart makes names that stand twice differ, so that each column can be told.
func apart(names []string) []string {
	out := slices.Clone(names)
	seen := map[string]int{}
	for i, n := range out {
		if seen[n]++; seen[n] > 1 {
			out[i] = n + " of " + strconv.Itoa(seen[n])
		}
	}
	return out
}
