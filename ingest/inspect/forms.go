package inspect

import (
	"slices"

	"wane/ingest/decode/emit"
)

// form is one kind of file that inspect can describe. propose looks at the sample
// and gives nil, with the report left as it was, where the file is of another
// kind. Where the file is its own it adds to the report what it saw and how
// sure it is of it (Findings, Columns) and what a person must decide (Questions),
// and gives the description. An error says that the file is of this kind and why
// it cannot be described.
//
// A form does not decode and does not judge its own result: every proposal is
// tried and checked alike (trial.go).
type form struct {
	name    string
	propose func(*sample, Answers, *Report) (*proposal, error)
}

// proposal is a description as far as the file tells it.
type proposal struct {
	source string // the name proposed for it
	text   string // YAML; what a person must decide is commented out
	trial  string // the same with stand-ins for what is open, so that rows can be shown; text where nothing is
	local  bool   // the zone is open: the trial's stand-in is UTC, and its times are shown without Z
}

// forms are asked in this order. Text tables take nearly anything, so they come
// last.
func forms() []form {
	return []form{
		{"Parquet", proposeParquet},
		{"workbook", proposeWorkbook},
		{"JSON", proposeJSON},
		{"points", proposePoints},
		{"aligned text", proposeAligned},
		{"text table", proposeTable},
	}
}

// describe gives the report of the first form that knows the file and whose trial
// reads something of it: lines of one kind can begin like those of another. Where
// no trial does, the first one says why.
func describe(s *sample, a Answers, seen *Report) (*Report, error) {
	var first *Report
	var refusal error
	for _, f := range forms() {
		rep := *seen
		rep.Findings = slices.Clone(seen.Findings)
		p, err := f.propose(s, a, &rep)
		if err != nil && refusal == nil {
			refusal = err
		}
		if err != nil || p == nil {
			continue
		}
		rep.Source, rep.Proposal = p.source, p.text
		if rep.tryProposal(p, s, a.Now); rep.Readings > 0 {
			return &rep, nil
		}
		if first == nil {
			first = &rep
		}
	}
	if refusal != nil {
		return nil, refusal
	}
	if first != nil {
		return first, nil
	}
	return nil, &emit.FileError{File: s.name, What: "is of no kind that is known",
		Do: "is this a logger's file? Write the description by hand if it is"}
}

// proposeTable is the form of delimited text.
func proposeTable(s *sample, a Answers, rep *Report) (*proposal, error) {
	t := &table{sample: s, answers: a, report: rep}
	if err := t.understand(); err != nil {
		return nil, err
	}
	return t.proposal(), nil
}

func (t *table) proposal() *proposal {
	p := &proposal{source: t.nameOfSource(), text: t.propose(), local: t.zoneOpen}
	p.trial = p.text
	if t.report.Open() {
		p.trial = t.standIn().propose()
	}
	return p
}

// standIn is the table with something put in place of what is open.
func (t *table) standIn() *table {
	closed := *t
	if t.as != nil && t.as.standIn != nil {
		closed.as = &otherForm{lines: t.as.standIn, refs: t.as.refs, own: t.as.own}
	}
	closed.zoneOpen, closed.decimalOpen = false, false
	if t.zoneOpen {
		closed.zone = "UTC"
	}
	if t.decimalOpen {
		closed.decimal = ','
	}
	if len(closed.byOrder) > 0 {
		closed.format, closed.byOrder = closed.byOrder[0], nil
	}
	if len(closed.sensorOpen) > 0 {
		closed.sensor.column, closed.sensorOpen = closed.sensorOpen[0]+1, nil
	}
	return &closed
}
