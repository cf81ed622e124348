// Package survival says how long lamps last, from units that began to be
// watched at any age and of which many still burn.
//
// A Unit is watched from the age Entry to the age Exit, in run-hours; at Exit it
// failed or was last seen working. Units that were already burning when the
// record began have Entry > 0: they tell nothing about the ages before, and
// those that died before the record began are rightly absent (left
// truncation). Treating such a unit as watched from 0 makes lamps look better
// than they are.
//
// What can be asked:
//
//  1. KaplanMeier: the share still working at each age, with no assumption on
//     the form; its quantiles are the B-lives (B10: the age at which 10 % have
//     failed). Turnbull: the same where failures were found at visits.
//  2. FitWeibull: the two-parameter Weibull by maximum likelihood; B-lives,
//     mean, failed share at an age, chance to fail in the coming hours. FitScale
//     is the same with a shape that is given, for records with no or one failure.
//  3. PlotPoints: what to draw on Weibull axes.
//  4. LogRank: do groups differ, and how great a difference could have been seen.
//  5. MeanCumulative: failures per position where the lamp is replaced each time
//     and the position goes on.
//  6. Incidence: two or more competing ends, such as dark against faded.
//
// Counts, rates and shares are in survival/exact, next year's counts and spares
// in survival/future.
//
// # Where the asymptotics fail
//
// The usual limits rest on many failures. Found by simulation (the scripts
// folder testdata/bench/survival prints the table):
//
//   - Kaplan-Meier before the first failure, and at 0 after the last, has a
//     Greenwood error of nought or none. There the limits are those of the
//     beta product, which is the mid-p exact binomial limit where nothing is
//     censored. With this, 95 % log-log limits held in 94 to 97.5 % at n = 20,
//     50 and 200 with half censored; plain and log limits in 87 to 94 % at
//     n = 50 where a tenth has failed.
//   - Limits of the Weibull from the curvature at the maximum (Wald) set the
//     lower end of a B10 too high: they held in 90 % at n = 20 with half
//     censored. The default is the likelihood ratio (Profile): 94 to 95 %.
//   - With about 5 failures the likelihood ratio holds in 92 to 94 %; a result
//     with fewer than 10 failures carries a warning.
//   - Without failures, or with one, no shape can be had: FitScale takes an
//     assumed one and gives exact limits.
//
// Promises: no I/O, no clock, no random numbers; the order of the units does
// not change a result beyond rounding. Bad rows (a NaN, an exit before the entry) are
// an error; too few data are not an error but a result without a centre that
// says in words what is missing.
package survival
