package main

import (
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The nights of a group and its fit: by the plain program, site by site, and by the
// engine of this process; each on one core and on two. Give the scale by WANE_FLEET_SITES,
// _FIXTURES and _DAYS, and -benchtime 1x.
func BenchmarkGroup(b *testing.B) {
	n, fixtures, days := scale(b)
	root := invented(b, n, fixtures, days)
	on := func(cores string, c *exec.Cmd) *exec.Cmd {
		t := exec.Command("taskset", append([]string{"-c", cores, c.Path}, c.Args[1:]...)...)
		t.Env = c.Env
		return t
	}
	for _, cores := range []string{"0", "0,1"} {
		b.Run("plain/cores="+cores, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				sites := copied(b, root)
				group := groupOf(b, sites)
				b.StartTimer()
				var cpu time.Duration
				for _, s := range sites {
					c := on(cores, exec.Command(built.wane, "nightly", "--site", s))
					finish(b, c)
					cpu += worked(c)
				}
				b.ReportMetric(b.Elapsed().Seconds(), "s/nights")
				b.ReportMetric(cpu.Seconds(), "cpu-s/nights")
				c := on(cores, exec.Command(built.wane, "group", "nightly", "--no-sites", "--group", group))
				finish(b, c)
				b.ReportMetric(mostMB(c), "MB-of-fit")
				b.ReportMetric((cpu + worked(c)).Seconds(), "cpu-s/op")
			}
		})
		b.Run("engine/cores="+cores, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				group := groupOf(b, copied(b, root))
				b.StartTimer()
				c := on(cores, fleet("-group", group))
				said := finish(b, c)
				b.ReportMetric(mostMB(c), "MB")
				b.ReportMetric(worked(c).Seconds(), "cpu-s/op")
				for line := range strings.Lines(said) {
					if strings.HasPrefix(line, "took ") {
						b.Log(strings.TrimSpace(line))
					}
				}
			}
		})
	}
}

// worked is the processor's time of a process and of those that it started.
func worked(c *exec.Cmd) time.Duration {
	return c.ProcessState.UserTime() + c.ProcessState.SystemTime()
}

// mostMB is the most memory that a process had, or one of those that it started.
func mostMB(c *exec.Cmd) float64 {
	return float64(c.ProcessState.SysUsage().(*syscall.Rusage).Maxrss) / 1024
}
