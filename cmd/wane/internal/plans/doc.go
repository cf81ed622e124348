// Package plans makes the relamp plan of a site: it gathers what package
// transform/plan takes in, and puts what that gives into files.
//
//  1. Gather turns the answers of derive.Ask, the register, the lamp lives and
//     how fixtures burned of late into a plan.Input. What it had to take for
//     granted, and which lamps it left out, it says in words.
//  2. Make plans, and compares the plan with other ways of keeping the lamps.
//  3. Write puts the calendar (plan.ics) and the tables (plan-*.csv) beside
//     the report's pages.
//
// Promises: nothing dated after the day of the answers is used; the same
// answers give the same plan, byte for byte.
package plans
