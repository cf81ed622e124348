package surveysheet

import (
	"strings"
	"testing"

	"wane/transform/survey"
)

var about = survey.Survey{ID: "s", Fixture: "F"}

func values(s survey.Survey) (v []float64) {
	for _, p := range s.Spots {
		v = append(v, p.PPFD)
	}
	return v
}

func TestGridSeparators(t *testing.T) {
	want := []float64{812, 840.5, 799, 700, 1012, 650}
	for name, in := range map[string]string{
		"tabs":             "812\t840.5\t799\n700\t1012\t650\n",
		"tabs, comma":      "812\t840,5\t799\r\n700\t1012\t650\r\n",
		"semicolons":       "812;840,5;799\n700;1012;650",
		"semicolons, last": "812; 840,5; 799;\n700; 1012; 650;",
		"spaces":           "  812 840.5   799\n\n700 1012 650  ",
		"spaces, comma":    "812 840,5 799\n700 1012 650",
		"hard spaces":      "812\u00a0840.5\u00a0799\n700\u00a01012\u00a0650",
		"comma space":      "812, 840.5, 799\n700, 1012, 650\n",
		"comma space, end": "812, 840.5, 799,\n700, 1012, 650,\n",
		"commas":           "812,840.5,799\n700,1012,650\n",
		"bom":              "\ufeff812 840.5 799\n700 1012 650",
	} {
		r, err := ParseGrid(in, about)
		if err != nil || len(r.Surveys) != 1 {
			t.Errorf("%s: %+v, %v", name, r, err)
			continue
		}
		got := values(r.Surveys[0])
		for i := range want {
			if len(got) != len(want) || got[i] != want[i] {
				t.Errorf("%s: got %v", name, got)
				break
			}
		}
		if r.Surveys[0].Rows != 2 || r.Surveys[0].Cols != 3 || r.Rows != 2 || r.Stored != 2 {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

func TestGridMarksSpotsNotRead(t *testing.T) {
	for name, in := range map[string]string{"dash": "1 2 3\n4 - 6", "na": "1;2;3\n4;n/a;6", "empty": "1\t2\t3\n4\t\t6",
		"comma": "1,2,3\n4,,6"} {
		r, err := ParseGrid(in, about)
		if err != nil || len(r.Surveys) != 1 || len(r.Surveys[0].Missing()) != 1 || r.Surveys[0].Missing()[0] != 5 {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}

func TestGridRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		in, want string
		cols     int
	}{
		"short line":        {"1 2 3\n4 5", "2 numbers, not 3", 0},
		"negative":          {"1 2 3\n4 -5 6", "column 2: PPFD -5 is negative", 0},
		"thousands":         {"812;1,012\n700;690", "may be 1.012 or 1012", 0},
		"point and comma":   {"1.012,5;800\n700;690", "point and a comma", 0},
		"two customs":       {"812,5;700\n650.5;640", "decimal points here", 0},
		"thousands, point":  {"812 1.012\n700 690", "seems to part thousands", 0},
		"decimal pairs":     {"812,5,840,2,799,1\n700,0,690,5,650,5", "every second number", 0},
		"declared pairs":    {"812,5,840,2,799,1\n700,0,690,5,650,5", "twice 3 numbers", 3},
		"one comma":         {"812,5\n840,2", "one comma to a line", 0},
		"mixed commas":      {"812,5, 840,2\n700, 690", "cannot be told apart", 0},
		"commas and spaces": {"812, 840 799\n700 690 650", "in others", 0},
		"words":             {"left right\n812 840", "not a number", 0},
		"dark":              {"0 0\n0 0", "every spot reads 0", 0},
		"hex":               {"0x1p3 1\n2 3", "not a number", 0},
	} {
		a := about
		a.Cols = c.cols
		r, err := ParseGrid(c.in, a)
		if err != nil || len(r.Surveys) != 0 || len(r.Rejects) != r.Rows {
			t.Errorf("%s: %+v, %v", name, r, err)
			continue
		}
		all := ""
		for _, j := range r.Rejects {
			all += j.Reason + "\n"
		}
		if !strings.Contains(all, c.want) {
			t.Errorf("%s: got %s", name, all)
		}
	}
	for _, in := range []string{"", " \n\t\n", "\xff\xfe1 2"} {
		if _, err := ParseGrid(in, about); err == nil {
			t.Errorf("%q was taken", in)
		}
	}
	a := about
	a.Rows = 5
	if r, err := ParseGrid("1 2\n3 4", a); err != nil || len(r.Rejects) != 2 ||
		!strings.Contains(r.Rejects[1].Reason, "5 rows were declared") {
		t.Errorf("%+v, %v", r, err)
	}
	a = about
	a.Cols = 1
	if r, err := ParseGrid("812,5\n840,2", a); err != nil || len(r.Surveys) != 1 || r.Surveys[0].Spots[1].PPFD != 840.2 {
		t.Errorf("one declared column leaves one reading: %+v, %v", r, err)
	}
}

func TestOneLineOfNine(t *testing.T) {
	r, err := Parse(strings.NewReader("1 2 3 4 5 6 7 8 9"), about)
	if err != nil || len(r.Surveys) != 1 || r.Surveys[0].Cols != 9 || r.Surveys[0].Rows != 1 {
		t.Errorf("%+v, %v", r, err)
	}
}

func FuzzGrid(f *testing.F) {
	for _, s := range []string{"812\t840,5\n700\t650", "1;2;;\n3;4;;", "812,5, 840,2", "1 2\n3 -", "1,2,3\n4,5,6", ",",
		"\ufeff1", " ,1", "1 ,2"} {
		f.Add(s, 0)
		f.Add(s, 2)
	}
	f.Fuzz(func(t *testing.T, in string, cols int) {
		a := about
		if cols > 0 && cols < 20 {
			a.Cols = cols
		}
		r, err := ParseGrid(in, a)
		if err != nil {
			return
		}
		if r.Rows != r.Stored+len(r.Rejects) {
			t.Fatalf("%d lines, %d stored, %d rejects", r.Rows, r.Stored, len(r.Rejects))
		}
		for _, s := range r.Surveys {
			if err := s.Check(); err != nil {
				t.Fatalf("a survey that is none was given: %v", err)
			}
			if a.Cols > 0 && s.Cols != a.Cols {
				t.Fatalf("%d columns, %d declared", s.Cols, a.Cols)
			}
		}
	})
}
