package inspect

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/ingest/decode"
	"wane/ingest/reading"
	"wane/ingest/source"
)

const corpus = "../../testdata/logger-files"

// bare is a sink that keeps times, values and lines, but no names: what a series
// is called is not in the file.
type bare struct {
	readings []string
	rejects  int
}

func (k *bare) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		k.readings = append(k.readings, fmt.Sprintf("%s %d/%d @%d", time.UnixMicro(b.Time[i]).UTC().Format(time.RFC3339Nano),
			b.Value[i].Mantissa, b.Value[i].Digits, b.Line[i]))
	}
	return nil
}

func (k *bare) Reject(reading.Reject) error { k.rejects++; return nil }

type entry struct {
	name string
	data []byte
	d    *source.Description
	want bare
	err  error
}

func entries(t testing.TB) []entry {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(corpus, "*.want.txt"))
	if err != nil || len(paths) < 40 {
		t.Fatal("no corpus", err)
	}
	var out []entry
	for _, p := range paths {
		e := entry{name: strings.TrimSuffix(filepath.Base(p), ".want.txt")}
		if e.data, err = os.ReadFile(filepath.Join(corpus, e.name)); err != nil {
			t.Fatal(err)
		}
		stem, _, _ := strings.Cut(e.name, ".")
		if text, err := os.ReadFile(filepath.Join(corpus, stem+".yaml")); err == nil {
			if e.d, err = source.Load(text, stem+".yaml"); err != nil {
				t.Fatal(err)
			}
			_, e.err = decode.File(context.Background(), bytes.NewReader(e.data), e.name, e.d, &e.want)
		} else {
			_, e.err = decode.Plain(context.Background(), bytes.NewReader(e.data), e.name, &e.want)
		}
		out = append(out, e)
	}
	return out
}

// hard are the files whose oddity one file alone does not tell: what is good or
// missing there needs a person, with the reason.
var hard = map[string]string{
	"header-only.csv":         "no data line shows the time format",
	"column-gone.csv":         "sound by itself; it is the described column that is gone",
	"unit-changed.csv":        "sound by itself; it is the declared unit that changed",
	"cut-in-header.csv":       "no data",
	"no-offset-in-header.csv": "sound by itself; the description expects more",
	"short-lines-blank.csv":   "whether short lines are whole is for a person to say",
	"missing-codes.csv":       "the description leaves two codes out on purpose",
	"fixture-a-column.csv":    "that -1 stands for no value is nowhere in the file",
	"pairs.json":              "read in another way that is as right, a value a row",
	"list-cut.json":           "the description asks for a column that is nowhere in the file",
	"portal-nested.json":      "the description leaves a number out on purpose",
	"uplinks.jsonl":           "the description leaves a counter out on purpose",
	"wrong-decimal-sign.csv":  "sound by itself; it is the description that is wrong",
}

// openOrder are the files whose dates can be read in two orders.
var openOrder = map[string]bool{"day-or-month.csv": true, "two-digit-year.csv": true, "day-a-line.csv": true}

// TestProposalsDecodeTheCorpus answers the zone (and the order of day and month
// where the file does not tell) and counts the files for which the proposal
// gives exactly the expected readings and rejects.
func TestProposalsDecodeTheCorpus(t *testing.T) {
	told, good := 0, 0
	for _, e := range entries(t) {
		if e.err != nil || hard[e.name] != "" {
			continue
		}
		a := Answers{}
		if e.d != nil && e.d.Zone != source.ZoneFromHeader {
			a.Zone = e.d.Zone
		}
		if openOrder[e.name] {
			a.Order = "dmy"
		}
		told++
		if why := tryEntry(e, a); why != "" {
			t.Logf("%s: %s", e.name, why)
			continue
		}
		good++
	}
	t.Logf("%d of %d proposals work", good, told)
	if 10*good < 9*told {
		t.Errorf("only %d of %d proposals work, less than 9 in 10", good, told)
	}
}

func tryEntry(e entry, a Answers) string {
	rep, err := FileWith(e.name, bytes.NewReader(e.data), a)
	if err != nil {
		return err.Error()
	}
	if rep.Open() {
		return fmt.Sprintf("asks %v", rep.Questions)
	}
	var got bare
	if rep.Proposal == "" {
		_, err = decode.Plain(context.Background(), bytes.NewReader(e.data), e.name, &got)
	} else {
		d, lerr := source.Load([]byte(rep.Proposal), "proposal.yaml")
		if lerr != nil {
			return lerr.Error() + "\n" + rep.Proposal
		}
		if !d.Match(e.name) {
			return fmt.Sprintf("the pattern %v does not match", d.Files)
		}
		_, err = decode.File(context.Background(), bytes.NewReader(e.data), e.name, d, &got)
	}
	if err != nil {
		return err.Error() + "\n" + rep.Proposal
	}
	slices.Sort(got.readings)
	want := slices.Clone(e.want.readings)
	slices.Sort(want)
	if diff := cmp.Diff(want, got.readings); diff != "" {
		return diff + rep.Proposal
	}
	if got.rejects != e.want.rejects {
		return fmt.Sprintf("%d rejects, want %d\n%s", got.rejects, e.want.rejects, rep.Proposal)
	}
	return ""
}

// TestNeverGuesses inspects without answers: a file whose zone or order of day
// and month is not in it must be asked about, and its proposal must not load;
// one that tells everything must not be asked about.
func TestNeverGuesses(t *testing.T) {
	for _, e := range entries(t) {
		rep, err := File(e.name, bytes.NewReader(e.data))
		if err != nil || rep.Proposal == "" {
			continue
		}
		var keys []string
		for _, q := range rep.Questions {
			keys = append(keys, q.Key)
		}
		asksZone := slices.Contains(keys, "zone")
		tells := e.d.Stamp().HasOffset || strings.HasPrefix(e.d.Time.Format, "epoch") || e.d.Zone == source.ZoneFromHeader &&
			e.name != "no-offset-in-header.csv"
		if asksZone == tells {
			t.Errorf("%s: asks for the zone: %v, the file tells it: %v", e.name, asksZone, tells)
		}
		if got, want := slices.Contains(keys, "time.format"), openOrder[e.name]; got != want {
			t.Errorf("%s: asks for the order of day and month: %v", e.name, got)
		}
		if _, err := source.Load([]byte(rep.Proposal), "p"); (err == nil) == rep.Open() {
			t.Errorf("%s: open %v, but loading says %v", e.name, rep.Open(), err)
		}
		if len(rep.Rows) == 0 && len(e.want.readings) > 0 {
			t.Errorf("%s: no row is shown", e.name)
		}
	}
}

func TestRefusesWhatIsNoLoggerFile(t *testing.T) {
	var fe *decode.FileError
	for _, e := range entries(t) {
		if slices.Contains([]string{"picture.csv", "empty.csv", "web-page.csv", "workbook.csv", "all-zero.csv"}, e.name) {
			if _, err := File(e.name, bytes.NewReader(e.data)); !errors.As(err, &fe) {
				t.Errorf("%s: %v", e.name, err)
			}
		}
	}
}

func FuzzFile(f *testing.F) {
	for _, e := range entries(f) {
		if len(e.data) < 2000 {
			f.Add(e.data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 8<<10 {
			return
		}
		rep, err := FileWith("x.csv", bytes.NewReader(data), Answers{Zone: "UTC", Order: "dmy"})
		if err != nil || rep.Proposal == "" || rep.Open() {
			return
		}
		if _, err := source.Load([]byte(rep.Proposal), "p"); err != nil {
			t.Fatalf("the proposal does not load: %v\n%s", err, rep.Proposal)
		}
	})
}
