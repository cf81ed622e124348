package inspect

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"time"

	"wane/ingest/decode"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// tryProposal decodes the file by the proposal, or in the plain form where p is
// nil, keeps the first rows, and checks the result.
func (r *Report) tryProposal(p *proposal, s *sample, now time.Time) {
	k := &keep{report: r, of: map[reading.Series]int{}, rejects: map[rejectKey]int64{}}
	var c decode.Counts
	var err error
	if p == nil {
		c, err = decode.Plain(context.Background(), bytes.NewReader(s.raw), s.member, k, decode.Now(now))
	} else {
		var d *source.Description
		if d, err = source.Load([]byte(p.trial), "proposal"); err != nil { // a fault of ours; shown rather than hidden
			r.add(Finding{"proposal", "does not load", Asked, err.Error()})
			r.doubt("trial", "the proposal does not load: "+err.Error())
			return
		}
		c, err = decode.File(context.Background(), bytes.NewReader(s.raw), s.member, d, k, decode.Now(now))
	}
	r.Readings = c.Rows - c.Rejects
	if p != nil && p.local {
		for i := range r.Rows {
			r.Rows[i].Time = strings.TrimSuffix(r.Rows[i].Time, "Z")
		}
	}
	if err != nil && !(s.cut && s.isParquet()) {
		r.add(Finding{"trial", "stopped", Asked, err.Error()})
		r.doubt("trial", err.Error())
		return
	}
	r.add(Finding{"trial", fmt.Sprintf("%d readings, %d rejects, %d blank", r.Readings, c.Rejects, c.Blank), Certain,
		"the sample, decoded by the proposal"})
	if r.Readings == 0 {
		r.doubt("trial", "nothing was read")
		return
	}
	r.checkResult(k)
}

// keep is a sink that keeps the first readings and rejects to show, and what the
// checks need of all.
type keep struct {
	report      *Report
	all         []series
	of          map[reading.Series]int // index in all
	count       int
	first, last int64
	lines       int64 // readings of the series with most of them: as many lines have a value
	rejects     map[rejectKey]int64
}

type rejectKey struct{ column, code string }

func (k *keep) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		at, name := b.Time[i], b.Series[b.Of[i]]
		if k.count == 0 {
			k.first, k.last = at, at
		}
		k.first, k.last = min(k.first, at), max(k.last, at)
		if k.count++; k.count > maxPoints {
			continue
		}
		n, ok := k.of[name]
		if !ok {
			n = len(k.all)
			k.of[name] = n
			k.all = append(k.all, series{name: name})
		}
		s := &k.all[n]
		s.points = append(s.points, point{at, b.Value[i], b.Line[i]})
		k.lines = max(k.lines, int64(len(s.points)))
		if len(k.report.Rows) < showRows {
			k.report.Rows = append(k.report.Rows, s.row(s.points[len(s.points)-1]))
		}
	}
	return nil
}

func (k *keep) Reject(r reading.Reject) error {
	k.rejects[rejectKey{r.Column, r.Code}]++
	if len(k.report.Rejects) < showRejects {
		k.report.Rejects = append(k.report.Rejects, r)
	}
	return nil
}
