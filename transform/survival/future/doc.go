// Package future says how many will fail: a distribution of the count, its mean, a
// prediction interval and the spares that cover it.
//
// A prediction interval is wider than the limits of an expected number: the
// count scatters by itself, and the parameters it rests on are uncertain. Sum
// has only the first kind; Mixture, Weibull and Events have both.
package future
