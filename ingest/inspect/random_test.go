package inspect

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wane/ingest/decode"
	"wane/ingest/source"
)

// TestProposalsDecodeRandomFiles writes files of random dialect and wants every
// value and moment back by way of the proposal.
func TestProposalsDecodeRandomFiles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		delim := rapid.SampledFrom([]string{";", "\t", ","}).Draw(t, "delim")
		decimal := "."
		if delim != "," {
			decimal = rapid.SampledFrom([]string{".", ","}).Draw(t, "decimal")
		}
		layout := rapid.SampledFrom([]string{"2006-01-02 15:04:05", "02.01.2006 15:04", "1/2/2006 3:04 PM",
			"02-Jan-2006 15:04:05", "2006/01/02" + delim + "15:04", "2006" + delim + "__2" + delim + "1504"}).Draw(t, "layout")
		eol := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "eol")
		names := []string{"PAR", "Supply (V)", "Lamp hours (h)", "Strange thing"}[:rapid.IntRange(1, 4).Draw(t, "columns")]
		var b strings.Builder
		titles := rapid.IntRange(0, 3).Draw(t, "titles")
		for i := range titles {
			fmt.Fprintf(&b, "Unit B4 title %d%s", i, eol)
		}
		head := []string{"Time"}
		switch strings.Count(layout, delim) {
		case 1:
			head = []string{"Date", "Time"}
		case 2:
			head = []string{"Year", "Day", "HrMin"}
		}
		b.WriteString(strings.Join(append(head, names...), delim) + eol)
		at := time.Date(2026, 1, rapid.IntRange(13, 28).Draw(t, "day"), 0, 0, 0, 0, time.UTC)
		var want []string
		for i := range rapid.IntRange(4, 40).Draw(t, "lines") {
			at = at.Add(15 * time.Minute)
			stamp := at.Format(layout)
			if len(head) == 3 { // without leading blanks or zeros, as data loggers print it
				stamp = fmt.Sprintf("%d%s%d%s%d", at.Year(), delim, at.YearDay(), delim, at.Hour()*100+at.Minute())
			}
			b.WriteString(stamp)
			for c := range names {
				m := rapid.IntRange(0, 99999).Draw(t, "value")
				fmt.Fprintf(&b, "%s%d%s%02d", delim, m/100, decimal, m%100)
				want = append(want, fmt.Sprintf("%s %d/2 @%d", at.Format(time.RFC3339Nano), m, titles+2+i))
				_ = c
			}
			b.WriteString(eol)
		}
		rep, err := FileWith("unit_b4.csv", strings.NewReader(b.String()), Answers{Zone: "UTC"})
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		d, err := source.Load([]byte(rep.Proposal), "p")
		if err != nil {
			t.Fatalf("%v\n%s\n%s", err, rep.Proposal, b.String())
		}
		var got bare
		if _, err := decode.File(context.Background(), bytes.NewReader([]byte(b.String())), "unit_b4.csv", d,
			&got); err != nil {
			t.Fatalf("%v\n%s\n%s", err, rep.Proposal, b.String())
		}
		slices.Sort(got.readings)
		slices.Sort(want)
		if diff := cmp.Diff(want, got.readings); diff != "" || got.rejects > 0 {
			t.Fatalf("%d rejects\n%s\n%s\n%s", got.rejects, diff, rep.Proposal, b.String())
		}
	})
}
