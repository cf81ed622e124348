package register

import (
	"os"
	"strings"
	"testing"
	"time"

	"wane/transform/fleet"
)

const goodFixtures = `fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install
f1,veg,veg-a,c1,hps-de,lot-1,make K2,1000,240,magnetic,2023-01-01,0
f2,veg,veg-a,c1,led,,make P7,,,driver,,1200.5
`

const goodSensors = `sensor,channel,quantity,unit,watches,factor,from,to
log1,1,ppfd,umol/m2/s,f1,1,,2023-06-30
log1,1,ppfd,umol/m2/s,f1,1.02,2023-07-01,
log1,v,supply_v,V,c1,,,
`

const goodLogbook = `at,what,scope,id,value,note
2024-02-03T10:00:00+01:00,clean,room,veg,all,after harvest
2023-05-01,recalibrate,sensor,log1,0.985,
2023-06-01,outage,site,,2023-06-03,storm
`

func TestGoodRegisterIsTakenWhole(t *testing.T) {
	loc, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	r, found := Parse([]byte(goodFixtures), []byte(goodSensors), []byte(goodLogbook), loc)
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	if len(r.Fixtures) != 2 || len(r.Sensors) != 3 || len(r.Logbook) != 3 {
		t.Fatalf("rows lost: %d %d %d", len(r.Fixtures), len(r.Sensors), len(r.Logbook))
	}
	if r.Logbook[0].What != "recalibrate" || r.Logbook[0].Number != 0.985 {
		t.Fatalf("logbook not in time order: %+v", r.Logbook[0])
	}
	if got := r.Sensors[0].To.Format(time.RFC3339); got != "2023-07-01T00:00:00+02:00" {
		t.Fatalf("the last day of a period is included; it ends at %s", got)
	}
	if r.Sensors[2].Factor != 1 || r.Fixtures[1].HoursAtInstall != 1200.5 {
		t.Fatalf("defaults: %+v %+v", r.Sensors[2], r.Fixtures[1])
	}
}

// The whole list a person gets for a register full of mistakes.
func TestEveryMistakeIsListedWithItsPlace(t *testing.T) {
	fixtures := goodFixtures + "f1,veg,veg-a,c1,hps-de,,,,,,,\n" + "f3,bloom,veg-a,c1,hpsde,,,1e9,,magnet,2023-13-01,\n" +
		"veg,veg,,,led,,,,,,,\n" + "f4,veg\n"
	sensors := goodSensors + "log1,1,ppfd,umol/m2/s,f1,1,2024-01-01,\n" + "log2,1,ppfd,lux,f9,0,,\n" +
		"log3,1,lux,,f2,x,2024-01-02,2024-01-01\n" + "log4,1,ppfd,,f1,1,2024-02-01,\n"
	logbook := goodLogbook + "2024-01-01,recalibrate,fixture,f1,,\n" + "yesterday,clean,room,veg,everything,\n" +
		"2024-01-01,relam,fixture,f1,,\n" +
		"2024-01-01,dim,fixture,f8,120,\n" + "2024-01-01,move,fixture,f1,veg-z,\n" + "2024-01-01,outage,site,,2023-01-01,\n"
	_, found := Parse([]byte(fixtures), []byte(sensors), []byte(logbook), time.UTC)
	want, err := os.ReadFile("testdata/mistakes.txt")
	if err != nil {
		t.Fatal(err)
	}
	if got := found.Error() + "\n"; got != string(want) {
		t.Errorf("--- got\n%s--- want\n%s", got, want)
	}
}

func TestHeaderMistakesAreNamed(t *testing.T) {
	_, found := Parse([]byte("fixture,rom\nf1,veg\n"), []byte(goodSensors), nil, time.UTC)
	text := found.Error()
	for _, want := range []string{`unknown column "rom"; did you mean "room"?`, `column "lamp_type" is missing`,
		"register/logbook.csv: the file is empty"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q not in:\n%s", want, text)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(goodFixtures), []byte(goodSensors), []byte(goodLogbook))
	f.Add([]byte("\xef\xbb\xbffixture\n\"a"), []byte(""), []byte("at,what\n"))
	f.Fuzz(func(t *testing.T, a, b, c []byte) {
		r, found := Parse(a, b, c, time.UTC)
		if len(found) > 0 {
			return
		}
		for i := range r.Fixtures { // whatever passed the check can be asked
			for _, l := range r.Lives(&r.Fixtures[i]) {
				if !l.To.IsZero() && l.To.Before(l.From) {
					t.Fatalf("life ends before it begins: %+v", l)
				}
			}
		}
	})
}

// TestWordsInAnyCase: LED and PPFD are written so everywhere else.
func TestWordsInAnyCase(t *testing.T) {
	fixtures := strings.NewReplacer(",led,", ",LED,", "hps-de", "HPS-DE", "magnetic", "Magnetic", "driver",
		"Driver").Replace(goodFixtures)
	sensors := strings.NewReplacer("ppfd", "PPFD", "supply_v", "Supply_V", "umol", "UMOL").Replace(goodSensors)
	logbook := strings.NewReplacer("clean,room", "Clean,ROOM", ",all", ",All").Replace(goodLogbook)
	r, found := Parse([]byte(fixtures), []byte(sensors), []byte(logbook), time.UTC)
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	if f := r.Fixtures[1]; f.LampType != "led" || f.Gear != "driver" || r.Sensors[0].Quantity != "ppfd" ||
		r.Logbook[2].Value != "all" {
		t.Errorf("%+v %+v %+v", f, r.Sensors[0], r.Logbook[2])
	}
}

// TestOneRoomWrittenTwoWays: "Flower" and "flower" would be two rooms, each with
// half the lamps and none with the threshold.
func TestOneRoomWrittenTwoWays(t *testing.T) {
	head := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n"
	_, found := Parse([]byte(head+"f1,Flower,A-1,C 1,led,,,,,,,\nf2,flower,a_1,C-1,led,,,,,,,\nf3,Flower,1-11,,led,,,,,,,\nf4,Flower,11-1,,led,,,,,,,\n"),
		[]byte("sensor,channel,quantity,unit,watches,factor,from,to\n"), []byte("at,what,scope,id,value,note\n"), time.UTC)
	want := `register/fixtures.csv:3:4: room: "flower" is written "Flower" on an earlier line; write one room's name one way; another's must differ in more than capitals, blanks and dashes
register/fixtures.csv:3:11: bay: "a_1" is written "A-1" on an earlier line; write one bay's name one way; another's must differ in more than capitals, blanks and dashes
register/fixtures.csv:3:15: circuit: "C-1" is written "C 1" on an earlier line; write one circuit's name one way; another's must differ in more than capitals, blanks and dashes`
	if got := found.Error(); got != want {
		t.Error(got)
	}
}

// TestLightInOtherUnits: lux and W/m2 are relative light, with a factor that
// somebody has said; other quantities keep their unit.
func TestLightInOtherUnits(t *testing.T) {
	sensors := func(rows string) string {
		_, found := Parse([]byte(goodFixtures), []byte("sensor,channel,quantity,unit,watches,factor,from,to\n"+rows),
			[]byte("at,what,scope,id,value,note\n"), time.UTC)
		return found.Error()
	}
	if got := sensors("a,1,ppfd,lx,f1,0.0185,,\nb,1,ppfd,W/m2,f2,4.6,,\nc,1,ppfd,umol/(m2.s),veg,,,\nd,1,ambient_c,Cel,f1,,,\ne,1,energy_kwh,kW.h,f1,,,\n"); got != "" {
		t.Error(got)
	}
	want := `register/sensors.csv:2:17: factor: light in lux is taken as relative light, and needs a factor; write the one that turns it into umol/m2/s for this lamp type and sensor; levels need it constant, not exact
register/sensors.csv:3:15: unit: "lx" is not the unit of ambient_c; write degC, and the factor that turns the reading into it
register/sensors.csv:4:14: unit: "mV" is not the unit of supply_v; write V, and the factor that turns the reading into it`
	if got := sensors("a,1,ppfd,lux,f1,,,\nb,1,ambient_c,lx,f1,2,,\nc,1,supply_v,mV,f1,0.001,,\n"); got != want {
		t.Error(got)
	}
}

// Where fixtures hang in their rooms may be told, for a map; half of it, or
// something else than metres, is a mistake with its place.
func TestPositions(t *testing.T) {
	head := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install,x,y\n"
	sensors, logbook := []byte("sensor,channel,quantity,unit,watches,factor,from,to\n"),
		[]byte("at,what,scope,id,value,note\n")
	r, found := Parse([]byte(head+"f1,veg,,,led,,,,,,,,1.5,-2\nf2,veg,,,led,,,,,,,,,\nf3,veg,,,led,,,,,,,,0,0\n"), sensors,
		logbook, time.UTC)
	if len(found) > 0 {
		t.Fatal(found)
	}
	for i, want := range []fleet.Spot{{X: 1.5, Y: -2, Known: true}, {}, {Known: true}} {
		if got := r.Fixtures[i].Spot; got != want {
			t.Errorf("%s hangs at %v, want %v", r.Fixtures[i].ID, got, want)
		}
	}
	_, found = Parse([]byte(head+"f1,veg,,,led,,,,,,,,1.5,\nf2,veg,,,led,,,,,,,,\"2,5\",3\nf3,veg,,,led,,,,,,,,9,20000\n"),
		sensors, logbook, time.UTC)
	want := `register/fixtures.csv:2:25: y: is empty where the other of x and y is not; give both, in metres from a corner of the room, or neither
register/fixtures.csv:3:21: x: "2,5" is not a number; write 2.5
register/fixtures.csv:4:23: y: 20000 is not within -10000 to 10000; write metres`
	if got := found.Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
