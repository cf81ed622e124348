package surveysheet

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
	"time"

	"wane/transform/survey"
)

const head = "survey,taken_at,fixture,height_m,row,col,ppfd\n"

func TestPlainForm(t *testing.T) {
	in := "\xef\xbb\xbf" + head +
		"s1,2025-03-01T09:30:00+01:00,F1,0.6,1,1,712.5\r\n" +
		"s1,2025-03-01T09:30:00+01:00,F1,0.6,1,2,\"690,5\"\n" +
		"s2,2025-03-01T10:30:00Z,F2,,1,1,500\n" +
		"s1,2025-03-01T08:30:00Z,F1,0.6,2,1,\n" + // same instant, spot not read
		"s1,2025-03-01T09:30:00+01:00,F1,0.6,1,1,712.5\n" // again
	r, err := ParsePlain(strings.NewReader(in))
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Surveys) != 2 || len(r.Rejects) != 0 || r.Rows != 5 || r.Stored != 4 || r.Duplicates != 1 {
		t.Fatalf("got %+v", r)
	}
	want := survey.Survey{ID: "s1", TakenAt: time.Date(2025, 3, 1, 8, 30, 0, 0, time.UTC), Fixture: "F1", HeightM: .6,
		Rows: 2, Cols: 2,
		Spots: []survey.Spot{{Row: 1, Col: 1, PPFD: 712.5}, {Row: 1, Col: 2, PPFD: 690.5}}}
	if !reflect.DeepEqual(r.Surveys[0], want) {
		t.Errorf("got %+v", r.Surveys[0])
	}
	if m := r.Surveys[0].Missing(); len(m) != 2 {
		t.Errorf("missing %v", m)
	}
}

func TestPlainRejectsNameLineAndRemedy(t *testing.T) {
	ok := "s1,2025-03-01T09:30:00Z,F1,0.6,"
	lines := []struct{ line, want string }{
		{ok + "1,1,700", ""},
		{ok + "1,2,-4", "negative"},
		{ok + "1,3,\"1,234\"", "may be 1.234 or 1234"},
		{ok + "1,4,690,5", "decimal comma must stand in quotes"},
		{ok + "1,5,Inf", "not a number"},
		{ok + "1,1,701", "given on line 2 with another value"},
		{ok + "0,1,700", "count from 1"},
		{"s1,2025-03-01,F1,0.6,2,1,700", "RFC 3339"},
		{"s1,2025-03-01T09:30:00Z,F2,0.6,2,1,700", "of fixture F1 on line 2 and of F2"},
		{"s1,2025-03-01T09:30:00Z,F1,0.7,2,1,700", "one survey has one height"},
		{"s1,2025-03-02T09:30:00Z,F1,0.6,2,1,700", "one survey has one time"},
		{"s1,2025-03-01T09:30:00Z,F1,-1,2,1,700", "not a height"},
		{",2025-03-01T09:30:00Z,F1,0.6,2,1,700", "no name"},
		{"s1,2025-03-01T09:30:00Z,,0.6,2,1,700", "fixture is empty"},
		{"s1,\"x\"y,F1,0.6,2,1,700", "no CSV"},
		{"dark,2025-03-01T09:30:00Z,F1,0.6,1,1,0", "every spot reads 0"},
		{"s3,2025-03-01T09:30:00Z,F1,0.6,1,1,0x10", "not a number"},
	}
	in := head
	for _, l := range lines {
		in += l.line + "\n"
	}
	r, err := ParsePlain(strings.NewReader(in))
	if err != nil {
		t.Fatal(err)
	}
	at := map[int]string{}
	for _, j := range r.Rejects {
		at[j.Line] = j.Reason
	}
	for i, l := range lines {
		got := at[i+2]
		if l.want == "" && got != "" || !strings.Contains(got, l.want) || (l.want != "" && got == "") {
			t.Errorf("line %d %s: got %q, want %q", i+2, l.line, got, l.want)
		}
	}
	if r.Rows != r.Stored+r.Duplicates+len(r.Rejects) || r.Stored != 1 {
		t.Errorf("%d rows, %d stored, %d duplicates, %d rejects", r.Rows, r.Stored, r.Duplicates, len(r.Rejects))
	}
}

func TestPlainHeader(t *testing.T) {
	for _, in := range []string{"", "survey,taken_at\n", "survey,taken_at,fixture,height_m,row,col,lux\n", "a\"b\n"} {
		if _, err := ParsePlain(strings.NewReader(in)); err == nil || !strings.Contains(err.Error(), Header()) {
			t.Errorf("%q: got %v", in, err)
		}
	}
}

func TestWriteAndReadAgain(t *testing.T) {
	s := survey.Survey{ID: "s,1", TakenAt: time.Date(2025, 3, 1, 8, 30, 0, 5e6, time.UTC), Fixture: "F \"1\"", HeightM: .6,
		Rows: 2, Cols: 3,
		Spots: []survey.Spot{{Row: 1, Col: 1, PPFD: 712.25}, {Row: 2, Col: 2, PPFD: 1.0 / 3}}}
	var b bytes.Buffer
	if err := Write(&b, []survey.Survey{s}); err != nil {
		t.Fatal(err)
	}
	r, err := Parse(&b, survey.Survey{})
	if err != nil || len(r.Surveys) != 1 || !reflect.DeepEqual(r.Surveys[0], s) {
		t.Errorf("got %+v, %v", r, err)
	}
	if err := Write(&b, []survey.Survey{{}}); err == nil {
		t.Error("an empty survey was written")
	}
}

func FuzzPlain(f *testing.F) {
	f.Add(head + "s1,2025-03-01T09:30:00+01:00,F1,0.6,1,1,712.5\ns1,2025-03-01T09:30:00+01:00,F1,0.6,1,2,\"690,5\"\n")
	f.Add(head + "s1,2025-03-01T09:30:00Z,F1,,1,1,-\n\"a\nb\",2025-03-01T09:30:00Z,F1,,1,1,3\n")
	f.Add(head + "s\"1,2025")
	f.Fuzz(func(t *testing.T, in string) {
		r, err := ParsePlain(strings.NewReader(in))
		if err != nil {
			return
		}
		if r.Rows != r.Stored+r.Duplicates+len(r.Rejects) {
			t.Fatalf("%d rows, %d stored, %d duplicates, %d rejects", r.Rows, r.Stored, r.Duplicates, len(r.Rejects))
		}
		for _, j := range r.Rejects {
			if j.Reason == "" || j.Line < 1 {
				t.Fatalf("a reject without a place or a reason: %+v", j)
			}
		}
		var b bytes.Buffer
		if err := Write(&b, r.Surveys); err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again, err := ParsePlain(&b)
		if err != nil || len(again.Rejects) > 0 || len(again.Surveys) != len(r.Surveys) {
			t.Fatalf("what was written cannot be read: %+v, %v", again.Rejects, err)
		}
		for i, s := range r.Surveys {
			if a := again.Surveys[i]; len(a.Spots) != len(s.Spots) || a.ID != s.ID || a.Fixture != s.Fixture ||
				!a.TakenAt.Equal(s.TakenAt) || a.HeightM != s.HeightM {
				t.Fatalf("got %+v, want %+v", a, s)
			}
		}
	})
}
