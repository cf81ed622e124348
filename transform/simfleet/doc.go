// Package simfleet invents fleets of grow-light fixtures whose truth is known,
// to judge forecasts by.
//
// A fleet is rooms of one lamp type and gear, each with bays of fixtures under
// one sensor. Lamps age along curves of several forms with a wandering rate;
// dirt gathers and is cleaned away; sensors drift, and are recalibrated or
// not; supply voltage and air temperature swing; set points change; loggers
// leave gaps, spikes and stuck runs; lamps fail and are replaced one by one or
// a room at once. Magnitudes are drawn fleet by fleet from ranges about the
// forecast's declared defaults. Most spread wider than those assume (lamp
// types' losses, bends and early terms, coefficients of voltage, temperature
// and set point, spreads between lots and lamps, noise and wander); the dirt of
// rooms, what a cleaning leaves and the mean drift of a site spread about as
// widely as assumed. Added is what the forecast's model does not hold: other
// forms of curves, seasons of dirt, cleanings that differ from fixture to
// fixture, steps of the supply, wandering drift. All magnitudes are invented
// (common practice, no source).
//
// The same Options give the same fleet, bit for bit.
package simfleet
