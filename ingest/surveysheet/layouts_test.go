package surveysheet

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var low, high = [][]float64{{401, 412, 403}, {410, 430, 411}, {402, 413, 400}},
	[][]float64{{501, 512, 503}, {510, 530, 511}, {502, 513, 500}}

// Invented sheets that were written down with their truth before the reader was
// looked at, and some that were added since.
var layouts = map[string]struct {
	text string
	want []gridWant
}{
	"a protocol with averages at two edges": {"Messprotokoll PPFD;;;;;\nLeuchte;BENCH-1;;Datum;17.11.2025;\nHöhe;1,20 m;;Spannung;239,5 V;\n;;;;;\n;S1;S2;S3;S4;Mittel\n" +
		"Z1;401,5;412,0;410,8;399,7;406,0\nZ2;415,1;430,2;428,9;414,4;422,2\n;;;;Mittel;411,7\n",
		[]gridWant{{fixture: "BENCH-1", at: "2025-11-17", height: 1.2, supply: 239.5,
			rows: [][]float64{{401.5, 412, 410.8, 399.7}, {415.1, 430.2, 428.9, 414.4}}}}},
	"seen from the door, told in titles": {"Grid survey BENCH-1,,,,\n17 November 2025,,,\"sensor 1.2 m below the lamp\",\nback wall,,,,\nrow 3,402,413,400\nrow 2,410,430,411\nrow 1,401,412,403\ndoor,left,middle,right\n",
		[]gridWant{{at: "2025-11-17", height: 1.2, rows: low}}},
	"two side by side under one day": {"\"Canopy light, 2025-11-19\",,,,,,,,\nBENCH-1,,,,,BENCH-2,,,\n,A,B,C,,,A,B,C\n1,401,412,403,,1,501,512,503\n2,410,430,411,,2,510,530,511\n" +
		"3,402,413,400,,3,502,513,500\nheight 120 cm,,,,,height 120 cm,,,\n",
		[]gridWant{{at: "2025-11-19", height: 1.2, rows: low}, {at: "2025-11-19", height: 1.2, rows: high}}},
	"a day over each grid, the fixture once": {"Fixture BENCH-1 at 1.2 m\n\n2023-11-20\n501 512 503\n510 530 511\n502 513 500\n\n2024-11-18\n401 412 403\n410 430 411\n402 413 400\n",
		[]gridWant{{at: "2023-11-20", height: 1.2, rows: high}, {at: "2024-11-18", height: 1.2, rows: low}}},
	"a list by positions": {"Fixture,Date,Time,Height (m),x (m),y (m),PPFD (umol/m2/s)\nB1,2025-11-20,13:05,1.2,0.0,0.0,401\nB1,2025-11-20,13:05,1.2,0.3,0.0,412\nB1,2025-11-20,13:06,1.2,0.6,0.0,403\n" +
		"B1,2025-11-20,13:06,1.2,0.0,0.3,410\nB1,2025-11-20,13:07,1.2,0.3,0.3,430\nB1,2025-11-20,13:07,1.2,0.6,0.3,411\nB1,2025-11-20,13:08,1.2,0.0,0.6,402\nB1,2025-11-20,13:08,1.2,0.3,0.6,413\nB1,2025-11-20,13:09,1.2,0.6,0.6,400\n",
		[]gridWant{{fixture: "B1", at: "2025-11-20 13:05", height: 1.2, rows: low}}},
	"a line a survey": {"Date,Fixture,Height [m],R1C1,R1C2,R1C3,R2C1,R2C2,R2C3,R3C1,R3C2,R3C3,Avg,Min,Max\n2025-11-21,B1,1.2,401,412,403,410,430,411,402,413,400,409.1,400,430\n" +
		"2025-11-21,B2,1.2,501,512,503,510,530,511,502,513,500,509.1,500,530\n",
		[]gridWant{{fixture: "B1", at: "2025-11-21", height: 1.2, rows: low},
			{fixture: "B2", at: "2025-11-21", height: 1.2, rows: high}}},
	"units in the cells, feet, a time behind the day": {"Lamp: B1,,,\nSurvey date: Nov 22 2025 15:00,,,\nMounting height: 4 ft,,,\nMains: 240V,Warmed up: 25 min,Meter: Q-2,\n,A,B,C\n" +
		"1,401 umol,412 umol,403 umol\n2,410 umol,430 umol,411 umol\n3,402 umol,413 umol,400 umol\nAvg,404.3,418.3,404.7\nMin,398,,\nMin/Avg,0.975,,\n",
		[]gridWant{{fixture: "B1", at: "2025-11-22 15:00", height: 1.2192, supply: 240, rows: low}}},
	"one line of titles, a spot read twice, one not": {"survey of B2 on 23.11.2025 at 1.20 m; meter Q-1\n;1;2;3\na;501;512/514;503\nb;510;n/a;511\nc;502;513;500\n",
		[]gridWant{{at: "2025-11-23", height: 1.2, rows: [][]float64{{501, 513, 503}, {510, nan, 511}, {502, 513, 500}}}}},
	"a column a fixture": {"Date: 2025-11-26,,\nHeight: 1.2 m,,\nRow,Col,B1,B2,remark\n1,1,401,501,\n1,2,412,512,\n1,3,403,503,\n2,1,410,510,\n2,2,430,530,middle\n2,3,411,511,\n3,1,402,502,\n3,2,413,513,\n3,3,400,500,\n",
		[]gridWant{{fixture: "B1", at: "2025-11-26", height: 1.2, rows: low},
			{fixture: "B2", at: "2025-11-26", height: 1.2, rows: high}}},
	"titles that name two days": {"Sheet of 2025-11-26, copied 2025-12-01,,\n401,412,403\n410,430,411\n402,413,400\n",
		[]gridWant{{rows: low, doubt: "the titles name two days"}}},
}

func TestFreshLayoutsAreRead(t *testing.T) {
	for name, c := range layouts {
		s, err := TextSheet([]byte(c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		found, err := Find(s)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if d := cmp.Diff(c.want, wants(found), cmp.AllowUnexported(gridWant{}),
			cmp.Comparer(func(a, b gridWant) bool { return sameWant(a, b) })); d != "" {
			t.Errorf("%s: want (-), got (+)\n%s", name, d)
		}
	}
}

// Numbered spots say not how they lie; told, they run row by row.
func TestNumberedSpotsAreArranged(t *testing.T) {
	s, err := TextSheet([]byte("fixture:\tB2\ntaken:\t2025-11-18 14:30\nheight:\t1.2 m\n\nspot\treading\tremark\n1\t501\t\n2\t512\t\n3\t503\t\n4\t510\tedge\n5\t530\tcentre\n6\t511\t\n7\t502\t\n8\t513\t\n9\t500\t\naverage\t509.1\t\n"))
	if err != nil {
		t.Fatal(err)
	}
	found, err := Find(s)
	if err != nil || len(found) != 1 || !found[0].Numbered {
		t.Fatalf("%+v, %v", found, err)
	}
	f := &found[0]
	if f.Arrange(2, 4) || f.Arrange(0, 9) || !strings.Contains(f.NumberedAsks(), "9 spots are numbered") {
		t.Errorf("arranged as it does not lie: %s", f.NumberedAsks())
	}
	if !f.Arrange(3, 3) || f.Arrange(3, 3) {
		t.Error("not arranged, or twice")
	}
	if w := (gridWant{fixture: "B2", at: "2025-11-18 14:30", height: 1.2, rows: high}); !sameWant(w, wants(found)[0]) {
		t.Errorf("%+v", wants(found)[0])
	}
}

func TestListsThatCannotBeReadSayWhy(t *testing.T) {
	for text, want := range map[string]string{
		"x,y,PPFD\n0,0,401\n0.3,0,412\n":                                           "has no unit; write m or cm",
		"spot,PPFD\nfirst,401\nsecond,412\n":                                       `"first" is no number of a spot`,
		"Date,Fixture,P1,P2,P3,P4\n2025-11-21,B1,1,2,3,4\n2025-11-21,B1,5,6,7,8\n": "name the surveys apart",
		"row,col,PPFD\n1,1,401\n1,999,412\n":                                       "at most",
		"row,col,PPFD\n1,1,bright\n":                                               `"bright" is not a number`,
		"row,col,klx\n1,1,40\n1,2,41\n":                                            "convert the readings",
	} {
		s, err := TextSheet([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Find(s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
