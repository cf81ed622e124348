// Package schedules decides when the site's batches run unattended: which slot
// of which job is due, once each, through outages, machine sleep, clock
// corrections and the two nights on which clocks change.
//
// # Words
//
// A line is five cron fields, read in the site's time zone. A slot is one
// instant at which a line says its job is due. A job is a name, a line and a
// function; the function gets the slot as an argument and never asks what time
// it is. A tick is the moment, once a minute, at which the scheduler looks
// whether anything is due. A slot is late when it runs after its time, and
// missed when it never runs because a later slot of the job stood in for it.
//
// # Steps
//
//  1. robfig/cron is the clockwork: it ticks once a minute, and at the start.
//     It does not decide what is due, since it knows nothing of slots that
//     passed while the machine was off.
//  2. At a tick each job, in the order listed, is asked which slots lie after
//     the last one done and not after now (Due).
//  3. Its catch-up policy picks from them: Latest runs the last and counts the
//     others as missed, Each runs all in order up to a limit.
//  4. A slot that ends well is written to the StateStore before the next one
//     starts. One that fails or panics stays due and is tried again at the next
//     tick, then after 2, 4, 8 … up to 60 ticks.
//
// # Promises
//
//   - No two runs overlap, of one job or of two: the site has one writer.
//   - A slot done is not run again, and one not done is not forgotten. The
//     exception is a process killed between the end of a run and the write of
//     the state: that slot runs twice, so a job must bear to be run again.
//   - A line fires once for each of its clock times, on change nights too. A
//     time inside the spring gap runs at the first instant after the gap; a
//     time in the repeated hour runs in the first of the two.
//   - Setting the clock back runs nothing twice: the scheduler waits until the
//     clock has passed the last slot done, and says so in the log. The ticks
//     themselves follow the monotonic clock and do not stop.
//   - On cancellation the running job's context is cancelled and it is given a
//     grace time; a slot cut short stays due for the next start.
//
// Lines that are not five fields or one of @hourly, @daily, @weekly, @monthly
// and @yearly are refused: "@every 1h" has no clock times that could be missed,
// and "TZ=" would be a second time zone beside the site's.
package schedules
