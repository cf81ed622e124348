package plan

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
)

const sample = `
currency: EUR
horizon_days: 730
site:
  lamp_price: 75
  labour_spot_min: 15
  wage_per_hour: 32
  crop_value_per_m2_year: 60
  lamp_share: 0.4
  crop_group: fruit vegetables
  work: [{from: 06-20, to: 07-15}, {weekdays: [sat]}]
lamp_types:
  led: {lamp_price: 420, yield_response: {min: 0.5, max: 0.9}}
rooms:
  R2: {lamp_price: 80, closed: [{from: "2027-12-20", to: "2028-01-06"}]}
stock: {hps-de: {lamps: 12}}
budget: {cap: 5000, period: quarter}
service_level: 0.9
risk: 0.1
threshold: limit
`

func TestSettingsReadAndMerge(t *testing.T) {
	var s Settings
	if err := yaml.UnmarshalWithOptions([]byte(sample), &s, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	if p := s.Validate(); len(p) != 0 {
		t.Fatalf("problems %+v", p)
	}
	for _, c := range []struct {
		room, lamp string
		price      float64
	}{{"R1", "hps-de", 75}, {"R1", "led", 420}, {"R2", "hps-de", 80}, {"R2", "led", 80}} {
		if got := s.resolve(c.room, c.lamp).lamp; got != c.price {
			t.Errorf("%s %s: price %g, want %g", c.room, c.lamp, got, c.price)
		}
	}
	if r := s.resolve("R1", "led").response; r != (Range{0.5, 0.9}) {
		t.Errorf("led response %v", r)
	}
	if r := s.resolve("R1", "hps-de").response; r != (Range{0.7, 1}) {
		t.Errorf("site response %v", r)
	}
	if !math.IsNaN(s.resolve("R1", "hps-de").lift) {
		t.Error("a lift cost out of nowhere")
	}
}

func TestValidateListsEveryFault(t *testing.T) {
	nan := math.NaN()
	s := Settings{
		HorizonDays: -1, ServiceLevel: num(1), Risk: num(0), Threshold: "maybe",
		Site: Terms{LampPrice: num(-3), WagePerHour: &nan, LampShare: num(40), CropGroup: "moss",
			YieldResponse: &Range{1, 0.5}},
		LampTypes: map[string]Terms{"led": {GearPrice: num(0), DirtDays: num(0)}},
		Rooms: map[string]Terms{"R1": {Work: []Window{{From: "tomorrow"}, {Weekdays: []string{"mo"}}, {From: "06-01"},
			{From: "2027-02-01", To: "2027-01-01"}}}},
		Stock:  map[string]Stock{"led": {Lamps: -1, Gear: -2}},
		Budget: &Budget{Cap: -5, Period: "week"},
	}
	want := []string{"horizon_days", "site.lamp_price", "site.wage_per_hour", "site.lamp_share", "site.yield_response",
		"site.crop_group",
		"lamp_types[led].gear_price", "lamp_types[led].dirt_time_constant_days", "rooms[R1].work[0]", "rooms[R1].work[1]",
		"rooms[R1].work[2]", "rooms[R1].work[3]",
		"stock[led].lamps", "stock[led].gear", "budget.cap", "budget.period", "service_level", "risk", "threshold"}
	got := s.Validate()
	for i, p := range got {
		if i >= len(want) || p.Path != want[i] || p.What == "" || p.Remedy == "" {
			t.Errorf("problem %d: %+v", i, p)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d problems, want %d", len(got), len(want))
	}
}

func TestFaultyLampIsNamedAndTheRestPlanned(t *testing.T) {
	in := site()
	in.Lamps[0].BurnPerDay = 0
	in.Lamps[1].Threshold = 90
	in.Lamps[2].Due.LoHours = 99999
	in.Lamps[3].Due.Quantiles = []Quantile{{0.5, 100}, {0.4, 200}}
	in.Lamps[4].HoursNow = math.NaN()
	in.Lamps[5].Area = -1
	in.Lamps[7].Fixture = "B00"
	in.Lamps[6].Fixture = ""
	r := Make(in)
	sound(t, r)
	if len(r.Lamps) != 24-8 || len(r.Problems) != 8 {
		t.Fatalf("%d lamps, problems %+v", len(r.Lamps), r.Problems)
	}
	if p := r.Problems[1]; p.Path != "lamps[A01].threshold" || !strings.Contains(p.Remedy, "0.9") {
		t.Errorf("%+v", p)
	}
	if len(r.Visits) == 0 {
		t.Error("the rest has no visit")
	}
}

func d(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

func TestCalendar(t *testing.T) {
	c := newCalendar([]Window{{From: "12-20", To: "01-06"},
		{From: "2027-06-01", To: "2027-06-30", Weekdays: []string{"Mon", "tue"}}}, []Window{{From: "12-24", To: "12-26"}})
	for day, open := range map[string]bool{"2027-12-19": false, "2027-12-20": true, "2027-12-25": false,
		"2028-01-06": true, "2028-01-07": false,
		"2027-06-01": true, "2027-06-02": false, "2027-06-07": true, "2027-07-05": false} {
		if c.open(d(day)) != open {
			t.Errorf("%s: open %v", day, !open)
		}
	}
	for _, s := range []struct {
		from, want, day string
		late, ok        bool
	}{
		{"2027-03-01", "2027-06-10", "2027-06-08", false, true}, // back to the last Tuesday
		{"2027-03-01", "2027-05-01", "2027-06-01", true, true},  // none before: the first after
		{"2027-06-09", "2027-06-12", "2027-06-14", true, true},
	} {
		got, late, ok := c.snap(d(s.from), d(s.want))
		if !got.Equal(d(s.day)) || late != s.late || ok != s.ok {
			t.Errorf("%s..%s: %s late %v ok %v", s.from, s.want, got.Format(time.DateOnly), late, ok)
		}
	}
	if _, ok := newCalendar([]Window{{From: "nonsense"}}, nil).next(d("2027-01-01")); ok {
		t.Error("only faulty windows must not mean any day")
	}
	if got, ok := (calendar{}).next(d("2027-01-02")); !ok || !got.Equal(d("2027-01-02")) {
		t.Error("no windows mean any day")
	}
}

func FuzzWindow(f *testing.F) {
	for _, s := range [][3]string{{"2027-01-01", "2027-02-01", "mon"}, {"12-20", "01-06", ""}, {"02-29", "02-29", "x"},
		{"", "", "sun"}} {
		f.Add(s[0], s[1], s[2])
	}
	f.Fuzz(func(t *testing.T, from, to, weekday string) {
		w := Window{From: from, To: to}
		if weekday != "" {
			w.Weekdays = []string{weekday}
		}
		s, err := w.parse()
		if err != nil {
			return
		}
		c := calendar{work: []span{s}}
		if day, ok := c.next(d("2027-01-01")); ok && !s.holds(day) {
			t.Fatalf("%+v: %s is not in it", w, day)
		}
	})
}
