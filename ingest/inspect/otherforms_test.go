package inspect

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// items gives n items of JSON from a template with the minute and a value.
func items(n int, template string) string {
	out := make([]string, n)
	for i := range out {
		out[i] = strings.NewReplacer("MM", fmt.Sprintf("%02d", i), "VV", fmt.Sprintf("%d.5", 800+i), "EE",
			fmt.Sprint(1768298400+900*i)).Replace(template)
	}
	return strings.Join(out, ",")
}

// otherLayouts are invented files of portals, brokers and databases: how the
// proposal reads them is told by one line of it, the number of readings, and the
// first.
var otherLayouts = []struct{ name, text, line, first string }{
	{"a list of lists with a target", `[{"target":"q1","datapoints":[` + items(8, `[VV,EE000]`) +
		`]},{"target":"q2","datapoints":[` + items(8, `[1VV,EE000]`) + `]}]`,
		"rows: '$[*].datapoints[*]'", "16 2026-01-13T10:00:00Z q1 800.5"},
	{"histories of entities", `[[` + items(8, `{"entity_id":"sensor.q1","state":"VV","last_changed":"2026-01-13T10:MM:00.25+00:00"}`) + `],[` + items(8, `{"entity_id":"sensor.q2","state":"VV","last_changed":"2026-01-13T10:MM:01+00:00"}`) + `]]`,
		"sensorFrom: {column: '$[*][*].entity_id'}", "16 2026-01-13T10:00:00.25Z sensor.q1 800.5"},
	{"feeds with texts for numbers", `{"channel":{"id":9,"last_entry_id":8},"feeds":[` + items(8,
		`{"created_at":"2026-01-13T10:MM:00Z","ppfd":"VV","air":null}`) + `]}`,
		"rows: '$.feeds[*]'", "8 2026-01-13T10:00:00Z feeds 800.5"},
	{"lists side by side", `{"latitude":52.1,"hourly_units":{"radiation":"W/m2"},"hourly":{"time":[` + items(8,
		`"2026-01-13T10:MM:00Z"`) + `],"radiation":[` + items(8, `VV`) + `]}}`,
		"lists: '$.hourly'", "8 2026-01-13T10:00:00Z side 800.5"},
	{"a matrix of metrics", `{"status":"success","data":{"resultType":"matrix","result":[{"metric":{"__name__":"ppfd","bay":"b1"},"values":[` + items(8, `[EE,"VV"]`) + `]},{"metric":{"__name__":"ppfd","bay":"b2"},"values":[` + items(8, `[EE,"VV"]`) + `]}]}}`,
		"rows: '$.data.result[*].values[*]'", "16 2026-01-13T10:00:00Z b1 800.5"},
	{"telemetry by name", `{"ppfd":[` + items(8, `{"ts":EE000,"value":"VV"}`) + `],"co2":[` + items(8,
		`{"ts":EE000,"value":"VV"}`) + `]}`,
		"channel: 'key of $[*]'", "16 2026-01-13T10:00:00Z telemetry 800.5"},
	{"named by time", `{"result":{"watts":{` + items(8, `"2026-01-13T10:MM:00Z":VV`) + `},"volts":{` + items(8,
		`"2026-01-13T10:MM:00Z":VV`) + `}}}`,
		"time: {columns: ['key']", "16 2026-01-13T10:00:00Z named 800.5"},
	{"hits of a search", `{"took":3,"hits":{"hits":[` + items(8,
		`{"_id":"aMM","_source":{"@timestamp":"2026-01-13T10:MM:00.000Z","bay":"b1","ppfd":VV}}`) + `]}}`,
		`'$.hits.hits[*]._source["@timestamp"]'`, "8 2026-01-13T10:00:00Z b1 800.5"},
	{"columns beside rows", `[{"columns":[{"text":"Time"},{"text":"ppfd"}],"rows":[` + items(8, `[EE000,VV]`) + `]}]`,
		"names: '$[*].columns[*].text'", "8 2026-01-13T10:00:00Z columns 800.5"},
	{"pairs of a name and a value", `[` + items(8, `{"time":"2026-01-13T10:MM:00Z","values":[{"parameter":"ppfd","value":VV},{"parameter":"air","value":21.5}]}`) + `]`,
		"rows: '$[*].values[*]'", "16 2026-01-13T10:00:00Z pairs 800.5"},
	{"decimal commas in texts", `{"Data":[` + strings.ReplaceAll(items(8,
		`{"Zeit":"2026-01-13T10:MM:00Z","Wert":"VV","n":1.25}`), ".5", ",5") + `]}`,
		"decimalChar: ','", "16 2026-01-13T10:00:00Z decimal 800.5"},
	{"uplinks with what gateways heard", strings.ReplaceAll(items(8,
		`{"time":"2026-01-13T10:MM:00+00:00","deviceInfo":{"deviceName":"n1"},"object":{"ppfd":VV},"rxInfo":[{"rssi":-90,"nsTime":"2026-01-13T10:MM:01+00:00"},{"rssi":-95,"nsTime":"2026-01-13T10:MM:01+00:00"}]}`), "},{\"time", "}\n{\"time") + "\n",
		"rows: '$'", "8 2026-01-13T10:00:00Z n1 800.5"},
	{"fields of line protocol", strings.ReplaceAll(items(8, "light,bay=b1 ppfd=VV EE"), ",light", "\nlight") + "\n",
		"time: {format: 'epoch-s'}", "8 2026-01-13T10:00:00Z b1 800.5"},
}

func TestOtherLayouts(t *testing.T) {
	for _, c := range otherLayouts {
		first, _, _ := strings.Cut(strings.ToLower(c.name), " ")
		word := map[string]string{"a": "x", "lists": "side"}[first]
		if word == "" {
			word = first
		}
		rep, err := FileWith(word+".json", strings.NewReader(c.text), Answers{Zone: "UTC"})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if rep.Open() || !rep.Believable() || len(rep.Rows) == 0 {
			t.Errorf("%s: asks %v, doubts %v\n%s", c.name, rep.Questions, rep.Checks, rep.Proposal)
			continue
		}
		r := rep.Rows[0]
		got := fmt.Sprintf("%d %s %s %s", rep.Readings, r.Time, r.Sensor, r.Value)
		if got != c.first || !strings.Contains(rep.Proposal, c.line) {
			t.Errorf("%s: %s, want %s and %q\n%s", c.name, got, c.first, c.line, rep.Proposal)
		}
	}
}

// TestWorkbooks proposes a sheet by its cells, skips its titles, and asks which of
// two.
func TestWorkbooks(t *testing.T) {
	book := func(sheets ...string) []byte {
		f := excelize.NewFile()
		format := "dd/mm/yyyy hh:mm"
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sheets {
			f.NewSheet(s)
			f.SetSheetRow(s, "A1", &[]any{"Invented house", "2026"})
			f.SetSheetRow(s, "A3", &[]any{"When", "PPFD (umol/m2/s)", "Note"})
			for i := range 10 {
				cell := fmt.Sprint("A", i+4)
				f.SetSheetRow(s, cell, &[]any{46035.25 + float64(i)/96, 800.5 + float64(i), "x"})
				f.SetCellStyle(s, cell, cell, style)
			}
		}
		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	rep, err := FileWith("house.xlsx", bytes.NewReader(book("Log")), Answers{Zone: "Europe/Amsterdam"})
	if err != nil {
		t.Fatal(err)
	}
	if rep.Open() || rep.Readings != 10 || rep.Rows[0].Time != "2026-01-13T05:00:00Z" || rep.Rows[0].Line != 4 ||
		rep.Rows[0].Value != "800.5" || !strings.Contains(rep.Proposal, "format: workbook") {
		t.Errorf("%d readings, %v, asks %v\n%s", rep.Readings, rep.Rows, rep.Questions, rep.Proposal)
	}
	rep, err = FileWith("house.xlsx", bytes.NewReader(book("Log", "Copy")), Answers{Zone: "Europe/Amsterdam"})
	if err != nil {
		t.Fatal(err)
	}
	if len(rep.Questions) != 1 || rep.Questions[0].Key != "sheet" || len(rep.Questions[0].Choices) != 2 ||
		rep.Readings != 10 {
		t.Errorf("%d readings, asks %v\n%s", rep.Readings, rep.Questions, rep.Proposal)
	}
}
