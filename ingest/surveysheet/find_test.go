package surveysheet

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/transform/survey"
)

// grid is what a sheet must give, row by row; NaN is a spot not read.
type gridWant struct {
	fixture, at string // at: 2025-03-01, or with 15:04; "": not said
	height      float64
	supply      float64
	rows        [][]float64
	doubt       string
}

var nan = math.NaN()

var three = [][]float64{{812, 840.5, 799}, {700, 1012, 650}, {640, 655, 610}}

// Layouts of this project's own making, as people keep their sheets.
var sheets = map[string]struct {
	text string
	want []gridWant
	err  string
}{
	"titles and labels": {"Canopy survey,,,\nFixture:,F1-A01,,\nDate:,2025-03-01,Height,1.2 m\n,,,\n,C1,C2,C3\nR1,812,840.5,799\nR2,700,1012,650\nR3,640,655,610\n",
		[]gridWant{{fixture: "F1-A01", at: "2025-03-01", height: 1.2, rows: three}}, ""},
	"letters and numbers": {"Under\tF1-A01\nTaken\t1 March 2025\nHeight (cm)\t120\nSupply\t239.5 V\n\n\t1\t2\t3\nA\t812\t840,5\t799\nB\t700\t1012\t650\nC\t640\t655\t610\n",
		[]gridWant{{fixture: "F1-A01", at: "2025-03-01", height: 1.2, supply: 239.5, rows: three}}, ""},
	"units behind the names, several to a line": {"Canopy survey;F1-A01;;;;\nDate;2025-03-01;;;;\n" +
		"Supply V;239.5;Power W;612;Height m;1.2\n;C1;C2;C3;;\nR1;812;840.5;799;;\nR2;700;1012;650;;\nR3;640;655;610;;\n",
		[]gridWant{{at: "2025-03-01", height: 1.2, supply: 239.5, rows: three}}, ""},
	"numbers at both sides": {";1;2;3\n1;812;840,5;799\n2;700;1012;650\n3;640;655;610\n", []gridWant{{rows: three}}, ""},
	"averages at the edge":  {",1,2,3,Avg\nA,812,840.5,799,817.2\nB,700,1012,650,787.3\nC,640,655,610,635\nMean,717.3,835.8,686.3,746.5\n", []gridWant{{rows: three}}, ""},
	"two on a sheet": {"Date: 2025-03-01\n\nLamp,F1-A01\n812,840.5,799\n700,1012,650\n640,655,610\n\nLamp,F1-A02\n512,540,499\n400,712,-\n",
		[]gridWant{{fixture: "F1-A01", at: "2025-03-01", rows: three},
			{fixture: "F1-A02", at: "2025-03-01", rows: [][]float64{{512, 540, 499}, {400, 712, nan}}}}, ""},
	"side by side": {"Date;2025-03-01 14:30;;;;;\n;;;;;;\nFixture: F1-A01;;;;Fixture: F1-A02;;\n812;840,5;799;;512;540;499\n700;1012;650;;400;712;480\n640;655;610;;300;310;305\n",
		[]gridWant{{fixture: "F1-A01", at: "2025-03-01 14:30", rows: three},
			{fixture: "F1-A02", at: "2025-03-01 14:30", rows: [][]float64{{512, 540, 499}, {400, 712, 480}, {300, 310, 305}}}},
		""},
	"spaces": {"Survey under F1-A01\n\nHeight: 1.2 m\n\n   1    2    3\nA 812 840.5 799\nB 700 1012 650\nC 640 655 610\n",
		[]gridWant{{height: 1.2, rows: three}}, ""},
	"from the far side": {"Fixture,F1-A01,,\n,,,\nC,640,655,610\nB,700,1012,650\nA,812,840.5,799\n",
		[]gridWant{{fixture: "F1-A01", rows: three}}, ""},
	"read twice": {",1,2,3\nA,810/814,840.5,799\nB,700,1012,650\nC,640,655,610\n", []gridWant{{rows: three}}, ""},
	"a list":     {"Row,Column,PPFD\n1,1,812\n1,2,840.5\n1,3,799\n2,1,700\n2,2,1010\n2,2,1014\n2,3,650\n3,1,640\n3,2,655\n3,3,610\n", []gridWant{{rows: three}}, ""},
	"unit in the title": {"PPFD (umol/m2/s);;\nDatum;1.3.2025;\n;;\n812;840,5;799\n700;1012;650\n640;655;610\n",
		[]gridWant{{at: "2025-03-01", rows: three}}, ""},
	"day or month": {"Date,3/4/2025,\n812,840.5,799\n700,1012,650\n640,655,610\n",
		[]gridWant{{rows: three, doubt: "day or the month first"}}, ""},
	"lux":             {"Illuminance (lux),,\n812,840.5,799\n700,1012,650\n640,655,610\n", nil, `speaks of "(lux)"`},
	"decimal customs": {"812;840,5;799\n700;1012.5;650\n", nil, "one of them may part thousands"},
}

func TestFindReadsSheetsAsPeopleKeepThem(t *testing.T) {
	for name, c := range sheets {
		s, err := TextSheet([]byte(c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		found, err := Find(s)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: %v, want an error with %q", name, err, c.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if d := cmp.Diff(c.want, wants(found), cmp.AllowUnexported(gridWant{}),
			cmp.Comparer(func(a, b float64) bool { return a == b || a != a && b != b }),
			cmp.Comparer(func(a, b gridWant) bool { return sameWant(a, b) })); d != "" {
			t.Errorf("%s: want (-), got (+)\n%s", name, d)
		}
	}
}

func sameWant(a, b gridWant) bool {
	if a.fixture != b.fixture || a.at != b.at || a.height != b.height || a.supply != b.supply ||
		len(a.rows) != len(b.rows) ||
		(a.doubt == "") != (b.doubt == "") || !strings.Contains(b.doubt, a.doubt) && !strings.Contains(a.doubt, b.doubt) {
		return false
	}
	for r := range a.rows {
		if len(a.rows[r]) != len(b.rows[r]) {
			return false
		}
		for c := range a.rows[r] {
			if x, y := a.rows[r][c], b.rows[r][c]; x != y && (x == x || y == y) {
				return false
			}
		}
	}
	return true
}

func wants(found []Found) (out []gridWant) {
	for _, f := range found {
		w := gridWant{fixture: f.Survey.Fixture, height: f.Survey.HeightM, doubt: strings.Join(f.Doubts, "; ")}
		if f.Survey.Conditions.SupplyV != nil {
			w.supply = *f.Survey.Conditions.SupplyV
		}
		if !f.Clock.Day.IsZero() {
			w.at = f.Clock.Day.Format(time.DateOnly)
			if f.Clock.HasTime {
				w.at = f.Clock.In(time.UTC).Format("2006-01-02 15:04")
			}
		}
		w.rows = table(f.Survey)
		out = append(out, w)
	}
	return out
}

func table(s survey.Survey) [][]float64 {
	out := make([][]float64, s.Rows)
	for r := range out {
		out[r] = make([]float64, s.Cols)
		for c := range out[r] {
			out[r][c] = nan
		}
	}
	for _, p := range s.Spots {
		out[p.Row-1][p.Col-1] = p.PPFD
	}
	return out
}

func TestUnevenSpacingIsKept(t *testing.T) {
	s, err := TextSheet([]byte(",0 cm,30 cm,80 cm\n0 cm,812,840.5,799\n50 cm,700,1012,650\n120 cm,640,655,610\n"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := Find(s)
	if err != nil || len(f) != 1 {
		t.Fatalf("%+v, %v", f, err)
	}
	g := f[0].Survey.Geometry
	if d := cmp.Diff([][]float64{{0, .5, 1.2}, {0, .3, .8}}, [][]float64{g.RowAtM, g.ColAtM},
		cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })); d != "" {
		t.Error(d)
	}
	if !sameWant(gridWant{rows: three}, wants(f)[0]) {
		t.Errorf("%+v", wants(f))
	}
}

// Whatever is on a sheet, a grid that is found is a survey that can be, or is
// refused in words by its own check.
func FuzzFind(f *testing.F) {
	for _, c := range sheets {
		f.Add(c.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := TextSheet([]byte(text))
		if err != nil {
			return
		}
		found, err := Find(s)
		if err != nil {
			return
		}
		for _, x := range found {
			rows, cols := x.Survey.Size()
			if rows != x.Survey.Rows || cols != x.Survey.Cols {
				t.Fatalf("%d x %d declared, spots reach %d x %d", x.Survey.Rows, x.Survey.Cols, rows, cols)
			}
		}
	})
}
