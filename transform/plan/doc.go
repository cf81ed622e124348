// Package plan turns "when is each lamp due" into "what to do about it": what
// to keep, clean, relamp or rewire, on which day, with what to order and at
// what cost.
//
// The steps, each in a file of its own:
//
//  1. Input (input.go, settings.go) holds the lamps as the due table knows them
//     and the site's costs and constraints. Every cost may be left out; Make
//     says in Result.Notes what its absence means. Validate lists every problem
//     with path, what is wrong and the remedy.
//  2. The forecast of a lamp's crossing hour becomes a distribution (due.go);
//     costs are expectations over it, never values at its median.
//  3. Light lost becomes money (light.go) through the crop's yield response,
//     always a range.
//  4. The cost-optimal interval (interval.go, package renewal) is where the
//     long-run cost rate is least; the flat neighbourhood within 2 % of the
//     least is given as a band.
//  5. Decisions per lamp and room (lot.go, decide.go, clean.go, gear.go,
//     cycling.go) with reasons in words.
//  6. Visits on days when work is possible, orders ahead of them by the lead
//     time, spares for a service level, a budget that is kept (schedule.go,
//     budget.go, orders.go, package spares).
//  7. What-if (whatif.go, live.go): alternatives and two common habits simulated over
//     the forecast distribution with one seed.
//
// Promises: pure and deterministic; the same Input gives the same Result. A
// faulty or missing input never stops the plan for the rest: it is listed in
// Result.Problems or Result.Notes. No result holds NaN or Inf except inside an
// Estimate that says it is unknown or unbounded.
package plan
