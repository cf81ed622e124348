package main

import (
	"context"
	"log/slog"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
)

// alive tells the service manager that started the daemon, where there is one,
// that it is ready, that it lives (twice in the time after which the manager would
// restart it), and that it ends.
func alive(ctx context.Context, log *slog.Logger) {
	say := func(state string) {
		if _, err := daemon.SdNotify(false, state); err != nil {
			log.Warn("the service manager cannot be told", "state", state, "error", err)
		}
	}
	say(daemon.SdNotifyReady)
	defer say(daemon.SdNotifyStopping)
	every, err := daemon.SdWatchdogEnabled(false)
	if err != nil {
		log.Warn("the service manager's watchdog cannot be read", "error", err)
	}
	if every == 0 {
		<-ctx.Done()
		return
	}
	tick := time.NewTicker(every / 2)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			say(daemon.SdNotifyWatchdog)
		}
	}
}
