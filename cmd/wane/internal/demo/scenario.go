package demo

import "wane/transform/fleet"

// lot is a delivery of lamps that age alike.
type lot struct {
	name, make string
	law        Law     // of the lot's mean lamp
	spread     float64 // relative spread of S between its lamps
}

// bay is a group of fixtures under one logger.
type bay struct {
	name     string // within its room: A, B
	fixtures int
}

// room is a place with one lighting programme, one lamp type and one kind of
// logger.
type room struct {
	id, title string
	lamp      fleet.LampType
	gear      fleet.Gear
	ratedW    float64
	ratedV    float64 // as the register has it
	suppliedV float64 // what the circuit carries on average
	on        int     // minute of the local day
	hours     int     // burning hours a day
	workAt    int     // minute of the local day at which people work, in the dark
	bays      []bay
	lots      []lot   // the first lamps: fixture i gets lots[i mod len]
	ppfd      float64 // at the sensors, new, at rated voltage
	dirt      float64 // share lost under a full coat
	warm      float64 // degrees while lit
	dialect   dialect
}

// The loggers and sheets the site has.
type dialect int

const (
	semicolonLocal dialect = iota // ';', decimal comma, dd.MM.yyyy HH:mm by the wall clock, title lines
	commaUTC                      // ',', ISO times in UTC, a row of units
	tabEpoch                      // tab, long, seconds since 1970
	plainForm                     // time,sensor,channel,value
)

// The true coefficients of nature, near but not equal to those that site.yaml
// declares: a site never knows them exactly.
var (
	trueSupply  = map[fleet.Gear]float64{fleet.Magnetic: 1.46, fleet.Electronic: 0.04, fleet.Driver: 0}
	trueAmbient = map[fleet.LampType]float64{fleet.LED: -0.0028}
)

func hpsDE(s float64) Law { return Law{S: s, Q: 0.10 * s, E: -0.006, Tau: 2000} }
func hpsSE(s float64) Law { return Law{S: s, Q: 0.10 * s, E: -0.010, Tau: 1500} }
func cmh(s float64) Law   { return Law{S: s, Q: -0.05 * s, E: -0.030, Tau: 700} }
func led(s float64) Law   { return Law{S: s, Q: 0.02 * s, E: 0.006, Tau: 400} }

// lots that are bought later, by name.
var laterLots = []lot{
	{"K-DE-b", "Invented-K", hpsDE(0.082), 0.10},
	{"P-DE-b", "Invented-P", hpsDE(0.108), 0.10},
	{"P-DE-c", "Invented-P", hpsDE(0.098), 0.10},
	{"K-SE-b", "Invented-K", hpsSE(0.108), 0.10},
	{"P-SE-b", "Invented-P", hpsSE(0.140), 0.10},
	{"K-CM-b", "Invented-K", cmh(0.100), 0.10},
	{"P-CM-b", "Invented-P", cmh(0.128), 0.10},
}

// badLot is the lot whose lamps tend to fail early.
const badLot = "P-DE-x"

// rooms is the invented grower's house.
func rooms() []room {
	return []room{
		{
			id: "F1", title: "flower 1", lamp: fleet.HPSDE, gear: fleet.Electronic, ratedW: 1000, ratedV: 230, suppliedV: 229,
			on: 6 * 60, hours: 12, workAt: 19*60 + 30, bays: []bay{{"A", 6}, {"B", 6}}, ppfd: 940, dirt: 0.045, warm: 27,
			lots:    []lot{{"K-DE-a", "Invented-K", hpsDE(0.079), 0.10}, {"P-DE-a", "Invented-P", hpsDE(0.104), 0.10}},
			dialect: semicolonLocal,
		},
		{
			id: "F2", title: "flower 2", lamp: fleet.HPSDE, gear: fleet.Magnetic, ratedW: 1000, ratedV: 240, suppliedV: 210,
			on: 20 * 60, hours: 12, workAt: 10 * 60, bays: []bay{{"A", 4}, {"B", 4}}, ppfd: 960, dirt: 0.040, warm: 26.5,
			lots:    []lot{{"K-DE-a", "Invented-K", hpsDE(0.072), 0.10}, {badLot, "Invented-P", hpsDE(0.110), 0.14}},
			dialect: semicolonLocal,
		},
		{
			id: "VEG", title: "vegetative", lamp: fleet.HPSSE, gear: fleet.Magnetic, ratedW: 600, ratedV: 230, suppliedV: 231,
			on: 5 * 60, hours: 18, workAt: 4 * 60, bays: []bay{{"A", 4}, {"B", 4}}, ppfd: 520, dirt: 0.090, warm: 25,
			lots:    []lot{{"K-SE-a", "Invented-K", hpsSE(0.112), 0.12}, {"P-SE-a", "Invented-P", hpsSE(0.145), 0.12}},
			dialect: commaUTC,
		},
		{
			id: "MO", title: "mother plants", lamp: fleet.CMH, gear: fleet.Electronic, ratedW: 315, ratedV: 230, suppliedV: 230,
			on: 4 * 60, hours: 18, workAt: 2*60 + 30, bays: []bay{{"A", 8}}, ppfd: 505, dirt: 0.035, warm: 24.5,
			lots:    []lot{{"K-CM-a", "Invented-K", cmh(0.094), 0.12}, {"P-CM-a", "Invented-P", cmh(0.120), 0.12}},
			dialect: tabEpoch,
		},
		{
			id: "LED1", title: "LED flower", lamp: fleet.LED, gear: fleet.Driver, ratedW: 640, ratedV: 230, suppliedV: 230,
			on: 7 * 60, hours: 12, workAt: 20 * 60, bays: []bay{{"A", 6}, {"B", 6}}, ppfd: 880, dirt: 0.030, warm: 28,
			lots: []lot{
				{"K-LE-a", "Invented-K", led(0.028), 0.12}, {"P-LE-a", "Invented-P", led(0.056), 0.12},
				{"T-LE-a", "Invented-T", led(0.080), 0.10},
			},
			dialect: commaUTC,
		},
		{
			id: "PROP", title: "propagation", lamp: fleet.LED, gear: fleet.Driver, ratedW: 320, ratedV: 230, suppliedV: 230,
			on: 6 * 60, hours: 18, workAt: 2 * 60, bays: []bay{{"A", 6}}, ppfd: 210, dirt: 0.040, warm: 23,
			lots:    []lot{{"K-LE-p", "Invented-K", led(0.038), 0.12}, {"P-LE-p", "Invented-P", led(0.062), 0.12}},
			dialect: plainForm,
		},
	}
}

// early are the run-hours that a lamp of the named fixture had when it was
// installed: it came from an older house.
var early = map[string]float64{"PROP-A04": 2600}

// reference is the fixture that is kept in a cupboard and lit for surveys only.
const reference = "REF-1"
