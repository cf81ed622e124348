package register

import (
	"strings"
	"testing"
)

func TestSurveyNotes(t *testing.T) {
	const head = "survey,spots,sensor,supply_v,power_w,ambient_c,warm_up_min,spacing_m,footprint_m2,note\n"
	n, found := ParseSurveys([]byte(head + "s1,,Q1,239.5,640,22,45,0.3,,\ns1,\"11-13, 25\",Q2,,,,,,,\ns2,,,,,,,,,\n"))
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	s := n["s1"]
	if *s.Conditions.SupplyV != 239.5 || s.Conditions.Sensor != "Q1" || s.SpacingM != .3 || s.Sensors[12] != "Q2" ||
		s.Sensors[25] != "Q2" || len(s.Sensors) != 4 {
		t.Errorf("%+v", s)
	}
	if n["s2"].Conditions.PowerW != nil {
		t.Error("an empty cell is not a 0")
	}
	_, found = ParseSurveys([]byte(head + "s1,,,,,,,,,\ns1,,Q2,,,,,,,\ns1,x-3,Q2,,,,,,,\ns1,1-3,Q2,230,,,,,,\ns1,2,Q3,,,,,,,\n"))
	const want = `register/surveys.csv:3:1: survey: s1 has a row on line 2 already; keep one; a second sensor goes into a row that names its spots
register/surveys.csv:4:4: spots: "x-3" is no spot number or range; write numbers and ranges such as 1-10, 25
register/surveys.csv:5:11: supply_v: a row that names spots holds a sensor only; write it in the survey's row without spots
register/surveys.csv:6:4: spots: spot 2 was read with Q2 already; one spot has one sensor`
	if got := found.Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestAddSurvey(t *testing.T) {
	row := map[string]string{"survey": "s1", "sensor": "Q1", "power_w": "640"}
	one, err := AddSurvey(nil, "s1", []map[string]string{row})
	if err != nil || !strings.HasSuffix(string(one), "\ns1,,Q1,,640,,,,,\n") {
		t.Fatalf("%q %v", one, err)
	}
	again, err := AddSurvey(one, "s1", []map[string]string{row})
	if err != nil || string(again) != string(one) {
		t.Errorf("again: %q %v", again, err)
	}
	if _, err := AddSurvey(one, "s1", []map[string]string{{"survey": "s1", "sensor": "Q2"}}); err == nil {
		t.Error("another sensor for the same survey was let through")
	}
	if _, err := AddSurvey(one, "s2", []map[string]string{{"survey": "s2", "power_w": "much"}}); err == nil {
		t.Error("a value that the register cannot use was let through")
	}
}

func TestSurveyNotesOfAnUnevenGrid(t *testing.T) {
	const head = "survey,spots,sensor,supply_v,power_w,ambient_c,warm_up_min,spacing_m,footprint_m2,note,rows_at_m,columns_at_m\n"
	n, found := ParseSurveys([]byte(head + "s1,,,,,,,,,,0 0.5 1.2,0 0.3\n"))
	if err := found.Err(); err != nil || len(n["s1"].RowAtM) != 3 || n["s1"].ColAtM[1] != .3 {
		t.Errorf("%+v, %v", n["s1"], err)
	}
	for _, bad := range []string{"s1,,,,,,,,,,0 0.5 0.2,0 0.3\n", "s1,,,,,,,,,,0 0.5,\n", "s1,,,,,,,,,,0 x,0 1\n"} {
		if _, found := ParseSurveys([]byte(head + bad)); len(found) != 1 {
			t.Errorf("%q: %v", bad, found)
		}
	}
	old := []byte("# beside\nsurvey,spots,sensor,supply_v,power_w,ambient_c,warm_up_min,spacing_m,footprint_m2,note\ns1,,Q1,,,,,,,\n")
	got, err := AddSurvey(old, "s2", []map[string]string{{"survey": "s2", "rows_at_m": "0 1", "columns_at_m": "0 1"}})
	const want = "# beside\n" + head + "s1,,Q1,,,,,,,,,\ns2,,,,,,,,,,0 1,0 1\n"
	if err != nil || string(got) != want {
		t.Errorf("%s, %v", got, err)
	}
}
