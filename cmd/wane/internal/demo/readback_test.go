package demo

import (
	"bufio"
	"bytes"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/ingest/surveysheet"
	"wane/transform/fleet"
)

// readings is what the inbox says, by "sensor/channel" and second, read by a
// reader of the test's own so that the dialects are held against what their
// descriptions promise.
type readings map[string]map[int64]float64

func (r readings) put(series string, unix int64, v float64) {
	if r[series] == nil {
		r[series] = map[int64]float64{}
	}
	r[series][unix] = v
}

var columnName = regexp.MustCompile(`^(?:CH(\d+)|([UT])|(Hours)) (\w+)$`)

func seriesOf(header string) string {
	m := columnName.FindStringSubmatch(header)
	switch {
	case m == nil:
		return ""
	case m[1] != "":
		return "LG-" + m[4] + "/CH" + m[1]
	case m[2] != "":
		return "VT-" + m[4] + "/" + m[2]
	}
	return "HM-" + m[4] + "/hours"
}

// inboxes holds what was read already, by site folder.
var inboxes = map[string]readings{}

func readInbox(t *testing.T, dir string, zone *time.Location) readings {
	t.Helper()
	if got, ok := inboxes[dir]; ok {
		return got
	}
	out := readings{}
	inboxes[dir] = out
	entries, err := os.ReadDir(filepath.Join(dir, "inbox"))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, "inbox", e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		sep, layout, in := ",", time.RFC3339, time.UTC
		switch {
		case strings.HasPrefix(e.Name(), "survey") || strings.HasPrefix(e.Name(), "panel"):
			continue
		case strings.HasPrefix(e.Name(), "F"):
			sep, layout, in = ";", "02.01.2006 15:04", zone
		case strings.HasPrefix(e.Name(), "MOA"):
			sep = "\t"
		case strings.HasPrefix(e.Name(), "hours_"):
			layout, in = "1/2/2006 3:04 PM", winterTime
		}
		var header []string
		lines := bufio.NewScanner(bytes.NewReader(data))
		for lines.Scan() {
			cells := strings.Split(strings.TrimSuffix(lines.Text(), "\r"), sep)
			if len(cells) > 3 && header == nil {
				header = cells
				continue
			}
			if len(cells) != len(header) {
				continue
			}
			if sep == "\t" {
				u, err := strconv.ParseInt(cells[0], 10, 64)
				if v, verr := strconv.ParseFloat(cells[3], 64); err == nil && verr == nil && cells[4] == "OK" {
					out.put(cells[1]+"/"+cells[2], u, v)
				}
				continue
			}
			stamp, first := cells[0], 1
			if sep == ";" {
				stamp, first = cells[0]+" "+cells[1], 2
			}
			at, err := time.ParseInLocation(layout, stamp, in)
			if err != nil {
				continue
			}
			if header[1] == "sensor" {
				if v, err := strconv.ParseFloat(cells[3], 64); err == nil {
					out.put(cells[1]+"/"+cells[2], at.Unix(), v)
				}
				continue
			}
			for i := first; i < len(cells); i++ {
				if v, err := strconv.ParseFloat(strings.Replace(cells[i], ",", ".", 1), 64); err == nil && v != -9999 {
					out.put(seriesOf(header[i]), at.Unix(), v)
				}
			}
		}
	}
	return out
}

// What the loggers print of a steady lamp is what is true of it: its level
// times dirt, gear, set point and gain, moved by supply and ambient.
func TestReadingsTellTheTruth(t *testing.T) {
	dir, truth := write(t, 3)
	got := readInbox(t, dir, truth.First.Location())
	gains := map[string][]float64{}
	for _, g := range truth.Gains {
		gains[g.Sensor] = g.Daily
	}
	at := map[string]*room{}
	rs := rooms()
	for i := range rs {
		at[rs[i].id] = &rs[i]
	}
	moved := map[string]string{"LED1-A06": "LG-LED1B/CH7"}
	checked := map[string]int{}
	for _, l := range truth.Lives {
		r := at[l.Room]
		if r == nil {
			continue
		}
		place := strings.ReplaceAll(l.Fixture[:len(l.Fixture)-2], "-", "")
		n, err := strconv.Atoi(l.Fixture[len(l.Fixture)-2:])
		if err != nil {
			t.Fatal(err)
		}
		series := "LG-" + place + "/CH" + strconv.Itoa(n)
		steady := (r.on + 4*60) % (24 * 60) // four hours after the start
		var offsets []float64
		for _, d := range l.Records {
			date := truth.First.AddDate(0, 0, d.Day)
			u := time.Date(date.Year(), date.Month(), date.Day(), 0, steady, 0, 0, date.Location()).Unix()
			s, p := series, place
			v, ok := got[s][u]
			if m := moved[l.Fixture]; !ok && m != "" {
				s, p = m, "LED1B"
				v, ok = got[s][u]
			}
			volts, vok := got["VT-"+p+"/U"][u]
			celsius, cok := got["VT-"+p+"/T"][u]
			if !ok || !vok || !cok || v < 20 || d.Lit < 10 {
				continue
			}
			dimmed := d.Dim * math.Exp(0.03*(1-d.Dim))
			expected := d.Level * d.Dirt * d.Gear * dimmed * gains["LG-"+p][d.Day] *
				math.Exp(trueSupply[r.gear]*math.Log(volts/r.ratedV)+trueAmbient[r.lamp]*(celsius-25))
			offsets = append(offsets, math.Log(v/expected))
		}
		if len(offsets) < 5 {
			continue
		}
		middle := median(offsets)
		for i := range offsets {
			offsets[i] = math.Abs(offsets[i] - middle)
		}
		if spread := median(offsets); spread > 0.006 {
			t.Errorf("%s life %d: readings scatter by %.4f about the truth, want under 0.006", l.Fixture, l.N, spread)
		}
		base := r.ppfd
		if r.dialect == tabEpoch {
			base /= milliVoltFactor
		}
		if math.Abs(middle-math.Log(base)) > 0.15 {
			t.Errorf("%s life %d: %.1f where the room is designed for %.1f", l.Fixture, l.N, math.Exp(middle), base)
		}
		checked[r.id]++
	}
	for id := range at {
		if checked[id] == 0 {
			t.Errorf("no lamp of room %s could be checked", id)
		}
	}
}

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

// The hour meters tell the hours that the lamps were lit; the circuit of F2
// carries what a 208 V service does, whatever the register says.
func TestMetersAndCircuitsTellTheTruth(t *testing.T) {
	dir, truth := write(t, 3)
	got := readInbox(t, dir, truth.First.Location())
	lit := map[string]float64{}
	for _, l := range truth.Lives {
		for _, d := range l.Records {
			if d.Day < truth.Days-1 { // the last reading is at the start of the last day
				lit[l.Fixture] += d.Lit
			}
		}
	}
	for place, fixture := range map[string]string{"F1A": "F1-A01", "F2B": "F2-B01", "LED1A": "LED1-A01"} {
		hours := got["HM-"+place+"/hours"]
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, v := range hours {
			lo, hi = min(lo, v), max(hi, v)
		}
		if math.Abs(hi-lo-lit[fixture]) > 1e-6 {
			t.Errorf("%s: the hour meter went on by %.2f h, %s was lit %.2f h", place, hi-lo, fixture, lit[fixture])
		}
	}
	fell := false
	var before float64
	for _, u := range sortedKeys(got["HM-VEG/VEG-A03"]) {
		v := got["HM-VEG/VEG-A03"][u]
		fell = fell || v < before
		before = v
	}
	if !fell {
		t.Error("the hour meter of the replaced ballast did not start again")
	}
	var volts []float64
	for _, v := range got["VT-F2A/U"] {
		volts = append(volts, v)
	}
	slices.Sort(volts)
	if lo, hi := volts[len(volts)/200], volts[len(volts)*199/200]; lo < 204 || hi > 216 || hi-lo < 3 {
		t.Errorf("99 %% of F2's voltages are in %.1f to %.1f, want within 204 to 216 and a swing", lo, hi)
	}
}

func sortedKeys(m map[int64]float64) []int64 {
	var keys []int64
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// A spoilt file loses nothing: the next one holds its lines again.
func TestTruncatedFileIsExportedAgain(t *testing.T) {
	dir, _ := write(t, 1)
	names, err := filepath.Glob(filepath.Join(dir, "inbox", "*"))
	if err != nil {
		t.Fatal(err)
	}
	cut := 0
	for i, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.HasSuffix(data, []byte("\n")) {
			continue
		}
		cut++
		next, err := os.ReadFile(names[i+1])
		if err != nil {
			t.Fatal(err)
		}
		lines := bytes.SplitAfter(data, []byte("\n"))
		for _, line := range lines[len(lines)/2 : len(lines)-1] {
			if !bytes.Contains(next, line) {
				t.Errorf("%s: %q is not in %s", filepath.Base(name), line, filepath.Base(names[i+1]))
				break
			}
		}
	}
	if cut != 2 {
		t.Errorf("%d truncated files, want 2", cut)
	}
}

func TestSurveysAreReadWhole(t *testing.T) {
	dir, truth := write(t, 1)
	for i := range labVisits {
		f, err := os.Open(filepath.Join(dir, "inbox", "survey-year-"+strconv.Itoa(i+1)+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		got, err := surveysheet.ParsePlain(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		points := 0
		for _, s := range got.Surveys {
			points += len(s.Spots)
		}
		want := len(onVisit(i, 0, nil))
		if len(got.Rejects) > 0 || len(got.Surveys) != want || want < len(bench)+1 || points != want*surveyGrid*surveyGrid {
			t.Errorf("survey %d: %d points, rejects %v", i+1, points, got.Rejects)
		}
	}
	makes := map[string]bool{}
	for _, l := range truth.Lives {
		for _, s := range surveyed {
			if l.Fixture == s.fixture && s.fixture != reference {
				makes[l.Make] = true
				if l.LampType != fleet.LED {
					t.Errorf("%s is no LED fixture", s.fixture)
				}
			}
		}
	}
	if len(makes) != 3 {
		t.Errorf("makes surveyed: %v, want three", makes)
	}
}
