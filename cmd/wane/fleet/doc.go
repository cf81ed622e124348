// Command fleet is the night of a group of sites on an engine: a cluster's, by the
// portable runners of Beam, or the one in this process. It is a module of its own,
// so that wane neither grows by the engine nor links it.
//
// What travels are work orders, not readings:
//
//  1. plan: what of table daily a site's archive lacks becomes orders (derive.Order):
//     a month or some days, for a range of fixtures.
//  2. roll: a worker opens the site's archive, reads the readings that the order
//     names, and rolls them up by the functions of the plain program.
//  3. write: the rows of a part, from all its orders, become the file that the plain
//     program would write, byte for byte, in the scratch folder.
//  4. night: the plain program's own `wane nightly` takes these parts and does the
//     rest, once a site, under the lock of its archive. Parts that are of something
//     else by then it leaves, and rolls up itself.
//  5. fit: when all nights have ended, the group is fitted by the steps of
//     forecast.Joined. Each is done at every site, and once with the sum of what the
//     sites said; what a site keeps, and what the group has learnt, travels.
//  6. `wane group nightly --no-sites` takes the sites' answers and writes the group's
//     tables and pages. A fit of something else by then it leaves, and fits itself.
//
// So the engine is a choice of where, never of what: without it the same nights
// run one after the other. An element that is tried again, twice or elsewhere does
// no harm: parts are named by their content, and a night is one writer's.
package main
