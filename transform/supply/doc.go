// Package supply works out what the logged voltage of a circuit says.
//
//  1. A Histogram counts readings by month, hour of day and half-volt bin, so
//     that a query can do the counting and years fit in a page.
//  2. Profiled gives median, percentiles and time outside a range by season and hour.
//  3. Identify weighs which service the circuit most likely is on, from the
//     voltage seen and the register, with the evidence, the alternatives and
//     what would settle it.
//  4. MaxDeviation and NegativeSequence give the unbalance of three phases;
//     Events counts sags, swells and interruptions in a series.
//  5. CheckRating says whether a fixture is rated for what it gets; Effect and
//     Explain say how much of a change of output the voltage accounts for.
//
// Limits carry their source, and whether it was read or recalled. Nothing here
// is advice to open gear: see Cautions.
package supply

// Cautions is what stands wherever a finding about a supply is shown.
const Cautions = "Before anyone opens anything: a licensed electrician, the local code, and lock-out. " +
	"A reading from a logger is no proof that a conductor is dead, and a switch or timer is no isolation. " +
	"Capacitors in gear hold charge. Retapping gear or moving a circuit is licensed work " +
	"(29 CFR 1910.333; NFPA 70E)."
