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
func (r *Report) tryProposal(p *proposal, s *sample) {
	k := &keep{report: r}
	var c decode.Counts
	var err error
	if p == nil {
		c, err = decode.Plain(context.Background(), bytes.NewReader(s.raw), s.member, k)
	} else {
		var d *source.Description
		if d, err = source.Load([]byte(p.trial), "proposal"); err != nil { // a fault of ours; shown rather than hidden
			r.add(Finding{"proposal", "does not load", Asked, err.Error()})
			r.doubt("trial", "the proposal does not load: "+err.Error(), nil)
			return
		}
		c, err = decode.File(context.Background(), bytes.NewReader(s.raw), s.member, d, k)
	}
	r.Readings = c.Rows - c.Rejects
	if p != nil && p.local {
		for i := range r.Rows {
			r.Rows[i].Time = strings.TrimSuffix(r.Rows[i].Time, "Z")
		}
	}
	if err != nil && !(s.cut && s.isParquet()) {
		r.add(Finding{"trial", "stopped", Asked, err.Error()})
		r.doubt("trial", err.Error(), nil)
		return
	}
	r.add(Finding{"trial", fmt.Sprintf("%d readings, %d rejects, %d blank", r.Readings, c.Rejects, c.Blank), Certain, "the sample, decoded by the proposal"})
	if r.Readings == 0 {
		r.doubt("trial", "nothing was read", nil)
	}
}

// keep is a sink that keeps the first readings and rejects.
type keep struct{ report *Report }

func (k *keep) Readings(b *reading.Batch) error {
	for i := 0; i < b.Len() && len(k.report.Rows) < showRows; i++ {
		s := b.Series[b.Of[i]]
		v := b.Value[i]
		k.report.Rows = append(k.report.Rows, Row{
			Line: int(b.Line[i]), Time: time.UnixMicro(b.Time[i]).UTC().Format(time.RFC3339Nano),
			Sensor: s.Sensor, Channel: s.Channel, Value: fmt.Sprintf("%.*f", v.Digits, v.Float()),
		})
	}
	return nil
}

func (k *keep) Reject(r reading.Reject) error {
	if len(k.report.Rejects) < showRejects {
		k.report.Rejects = append(k.report.Rejects, r)
	}
	return nil
}
