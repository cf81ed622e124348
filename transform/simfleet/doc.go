// Package simfleet invents fleets of grow-light fixtures whose truth is known,
// to judge forecasts by.
//
// A fleet is rooms of one lamp type and gear, each with bays of fixtures under
// one sensor. Lamps age along curves of several forms with a wandering rate;
// dirt gathers and is cleaned away; sensors drift, and are recalibrated or
// not; supply voltage and air temperature swing; set points change; loggers
// leave gaps, spikes and stuck runs; lamps fail and are replaced one by one or
// a room at once. Every magnitude is drawn fleet by fleet from a range wider
// than the forecast's declared defaults assume, so that a forecast is never
// judged on its own assumptions. All magnitudes are invented (common practice,
// no source).
//
// The same Options give the same fleet, bit for bit.
package simfleet
