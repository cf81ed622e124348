package inspect

import (
	"bytes"
	"context"
	"fmt"
	"testing"
	"time"

	"wane/ingest/decode"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// allRounds are the layouts of all rounds with their contents.
func allRounds() []struct {
	layouts  []strange
	contents []sheet
} {
	return []struct {
		layouts  []strange
		contents []sheet
	}{
		{round1(), round1Contents()}, {round2(), round2Contents()}, {round3(), round3Contents()}, {round4(), round4Contents()},
		{round5(), round5Contents()}, {round6All(), round6Contents()}, {round8(), round8Contents()},
		{round9(), round9Contents()}, {round10(), round10Contents()}, {round11(), round11Contents()},
		{round12(), round12Contents()},
	}
}

// written gives a layout filled with a content.
func (l strange) written(c sheet, k int) sheet {
	s := c
	s.truth, s.file, s.seed = map[string]map[int64]float64{}, fmt.Sprintf("export_%d.csv", k), uint64(k)
	l.write(&s)
	if s.data == nil {
		s.data = []byte(s.b.String())
	}
	return s
}

// TestProposalsReadTheNextFile: what was proposed from one file reads the next one of the same
// layout right, or refuses it, but never reads it wrongly in silence.
func TestProposalsReadTheNextFile(t *testing.T) {
	t.Parallel()
	count := map[string]int{}
	for _, round := range allRounds() {
		for i, l := range round.layouts {
			if passedOver(i) {
				continue
			}
			k := i % 2 // contents take turns
			c := round.contents[k]
			first := l.written(c, k+1)
			v, proposal := first.judge()
			if v.kind != right || proposal == "" || first.refuse {
				continue
			}
			c.start = c.start.Add(time.Duration(c.n) * c.step)
			next := l.written(c, k+1)
			v = next.readBy(proposal)
			count[v.kind]++
			if v.kind != right {
				t.Logf("%s, content %d: %s: %s", l.name, k+1, v.kind, v.why)
			}
			if v.kind == wrong {
				t.Errorf("%s, content %d: the next file is read silently wrong: %s\n%s\n%s", l.name, k+1, v.why,
					next.data[:min(len(next.data), 400)], proposal)
			}
		}
	}
	t.Logf("next files: %v", count)
	if all := count[right] + count[asks]; all == 0 || 10*count[right] < 9*all {
		t.Errorf("%d of %d next files are read right", count[right], all)
	}
}

// readBy holds against the truth what a description, or with none the plain form, reads of the
// file.
func (s *sheet) readBy(description string) verdict {
	got := &keptReadings{at: map[reading.Series]map[int64]float64{}}
	d, err := source.Load([]byte(description), "proposal.yaml")
	if description == "" {
		_, err = decode.Plain(context.Background(), bytes.NewReader(s.data), s.file, got)
	} else if err == nil {
		_, err = decode.File(context.Background(), bytes.NewReader(s.data), s.file, d, got)
	}
	if err != nil {
		return verdict{asks, "the description: " + err.Error()}
	}
	return s.hold(got)
}
