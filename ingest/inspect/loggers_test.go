package inspect

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/ingest/decode"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// realLoggers holds files that devices and portals wrote, and what a right
// description makes of them. It lies beside the project, not in it.
const realLoggers = "../../../shared/loggers"

// realRight is how many of the files must be read right.
const realRight = 29

// stored is what a file came to: values by moment, and how many readings
// contradict another one of their series and moment.
type stored struct {
	at       map[int64][]float64
	readings int64
	rejects  int64
	sums     map[momentOf]float64
	clashes  int
}

type momentOf struct {
	series reading.Series
	at     int64
}

func (k *stored) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		v, m := b.Value[i].Float(), momentOf{b.Series[b.Of[i]], b.Time[i]}
		if was, again := k.sums[m]; again && was != v {
			k.clashes++
			continue
		} else if again {
			continue
		}
		k.sums[m] = v
		k.at[m.at] = append(k.at[m.at], v)
		k.readings++
	}
	return nil
}

func (k *stored) Reject(reading.Reject) error { k.rejects++; return nil }

// verdict is what became of one file.
type verdict struct{ kind, why string }

const (
	right = "right"
	wrong = "silently wrong"
	asks  = "asked or refused"
	left  = "right but for columns left out with a word"
	more  = "more columns kept than expected, all expected ones right"
)

// judge inspects a file as a person would who answers the zone and the order of
// dates, reads it by the proposal, and gives what came of it.
func judge(name string, data []byte, a Answers) (got *stored, v verdict, proposal string) {
	rep, err := FileWith(name, bytes.NewReader(data), a)
	if err != nil {
		return nil, verdict{asks, err.Error()}, ""
	}
	if rep.Open() {
		return nil, verdict{asks, fmt.Sprint("asks ", rep.Questions)}, rep.Proposal
	}
	if !rep.Believable() {
		return nil, verdict{asks, fmt.Sprint("doubts ", rep.Checks)}, rep.Proposal
	}
	if got, err = readBy(name, data, rep.Proposal); err != nil {
		return nil, verdict{asks, err.Error()}, rep.Proposal
	}
	return got, verdict{right, ""}, rep.Proposal
}

// readBy reads a file by a description, or in the plain form where there is none.
func readBy(name string, data []byte, description string) (*stored, error) {
	got := &stored{at: map[int64][]float64{}, sums: map[momentOf]float64{}}
	if description == "" {
		_, err := decode.Plain(context.Background(), bytes.NewReader(data), name, got)
		return got, err
	}
	d, err := source.Load([]byte(description), "proposal.yaml")
	if err == nil {
		_, err = decode.File(context.Background(), bytes.NewReader(data), name, d, got)
	}
	return got, err
}

// realFile is one line of the manifest.
type realFile struct {
	name, expect, zone, order string
	least, most, rejects      int64
	samples                   []string
}

func manifest(t *testing.T) []realFile {
	f, err := os.Open(filepath.Join(realLoggers, "manifest.csv"))
	if errors.Is(err, fs.ErrNotExist) && os.Getenv("CI") == "" {
		t.Log("nothing was held against real files: they lie beside the project, and are not here")
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) < 20 {
		t.Fatal("no manifest", err)
	}
	at := map[string]int{}
	for i, n := range lines[0] {
		at[n] = i
	}
	var out []realFile
	for _, l := range lines[1:] {
		get := func(n string) string { return l[at[n]] }
		count := func(n string) int64 { v, _ := strconv.ParseInt(get(n), 10, 64); return v }
		out = append(out, realFile{
			name: get("file"), expect: get("expect"), zone: get("zone"), order: get("order"),
			least: count("readings_min"), most: count("readings_max"), rejects: count("quarantine_max"),
			samples: strings.Split(get("samples"), "|"),
		})
	}
	return out
}

func (f realFile) judge(data []byte) (verdict, string) {
	got, v, proposal := judge(f.name, data, Answers{Zone: f.zone, Order: f.order})
	if v.kind != right {
		return v, proposal
	}
	v = f.hold(got)
	if all := takenOut.ReplaceAllString(proposal, "  - "); v.kind == wrong && all != proposal {
		if got, err := readBy(f.name, data, all); err == nil && f.hold(got).kind != wrong {
			v = verdict{left, "columns that behave like codes, settings or counts, each with the line that stores it"}
		}
	}
	return v, proposal
}

func (f realFile) hold(got *stored) verdict {
	if got.readings < f.least {
		return verdict{wrong, fmt.Sprintf("%d readings, want %d to %d", got.readings, f.least, f.most)}
	}
	for _, s := range f.samples {
		moment, value, _ := strings.Cut(s, "=")
		at, err := time.Parse(time.RFC3339, moment)
		want, err2 := strconv.ParseFloat(value, 64)
		if err != nil || err2 != nil {
			return verdict{wrong, "the manifest's sample " + s}
		}
		found := false
		for _, v := range got.at[at.UnixMicro()] {
			found = found || v == want || closeTo(v, want)
		}
		if !found {
			return verdict{wrong, fmt.Sprintf("%s is not stored; %v are at that moment", s, got.at[at.UnixMicro()])}
		}
	}
	if got.rejects > f.rejects {
		return verdict{asks, fmt.Sprintf("%d rejects, want at most %d", got.rejects, f.rejects)}
	}
	if got.readings > f.most {
		return verdict{more, fmt.Sprintf("%d readings, want %d to %d", got.readings, f.least, f.most)}
	}
	return verdict{right, ""}
}

func closeTo(a, b float64) bool { return a-b < 1e-6 && b-a < 1e-6 }

// TestRealFiles inspects and reads files that nobody here wrote.
func TestRealFiles(t *testing.T) {
	t.Parallel()
	files := manifest(t)
	count := map[string]int{}
	for _, f := range files {
		data, err := os.ReadFile(filepath.Join(realLoggers, f.name))
		if err != nil {
			t.Fatal(err)
		}
		v, proposal := f.judge(data)
		if f.expect == "refuse" && v.kind == asks {
			v = verdict{kind: right}
		}
		count[v.kind]++
		if v.kind != right {
			t.Logf("%s: %s: %s", f.name, v.kind, v.why)
		}
		if v.kind == wrong {
			t.Errorf("%s is read silently wrong: %s\n%s", f.name, v.why, proposal)
		}
	}
	t.Logf("%d files: %v", len(files), count)
	if count[right]+count[left] < min(realRight, len(files)) {
		t.Errorf("%d of %d real files are read right, fewer than %d", count[right], len(files), realRight)
	}
}
