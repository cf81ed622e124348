package main

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/sitefolder"
	"wane/cmd/wane/internal/tell"
	"wane/cmd/wane/internal/tell/post"
	"wane/ingest/site"
	"wane/schedules"
)

// tellOutcome takes what a batch found, and facts besides, into the memory of what
// people were told, and sends what is due. out may be nil.
func tellOutcome(ctx context.Context, folder site.Folder, e env, out *batch.Outcome, facts tell.Facts) error {
	c, bad := folder.Load(sitefolder.CronLine)
	if c.Tell.Mail == nil && c.Tell.Webhook == nil {
		return nil // nobody is to be told, or site.yaml cannot be read at all
	}
	if bad != nil && c.Location == nil {
		return nil
	}
	now := e.now()
	if out != nil && out.Result != nil {
		found, ferr := factsOf(ctx, folder, out, now)
		if ferr != nil {
			return ferr
		}
		found.List, found.Known = append(found.List, facts.List...), append(found.Known, facts.Known...)
		facts = found
	}
	if err := post.Change(ctx, folder, func(m *tell.Memory) {
		m.Learn(facts, now)
		pass(m, c, now)
	}); err != nil {
		return err
	}
	return post.Deliver(ctx, folder, post.Channels(folder, c.Tell), e.now)
}

// pass makes the messages that are due by now.
func pass(m *tell.Memory, c site.Config, now time.Time) {
	s := settings(c)
	m.Alarms(s, now)
	if c.Tell.Digest == site.Nightly {
		m.Digest(s, now)
		return
	}
	line, err := schedules.ParseLine(c.Tell.Digest) // checked with site.yaml
	if err == nil && !line.Next(c.Location, m.DigestAt).After(now) {
		m.Digest(s, now)
	}
}

func settings(c site.Config) tell.Settings {
	who := map[tell.Duty]string{}
	for duty, name := range c.Tell.Who {
		who[tell.Duty(duty)] = name
	}
	return tell.Settings{
		Site: c.Name, Invented: c.Invented, Heartbeat: c.Tell.Heartbeat, SoonDays: c.Tell.SoonDays, Link: c.Tell.Link,
		Who: who,
	}
}

// tellLoop sends, once a minute until ctx ends, what waits to be sent: what could
// not be sent before, a digest whose time has come between two nights, and that
// nothing comes from a source.
func tellLoop(ctx context.Context, folder site.Folder, e env, log *slog.Logger) {
	minute := time.NewTicker(time.Minute)
	defer minute.Stop()
	said := ""
	for {
		err := tellAgain(ctx, folder, e)
		if ctx.Err() != nil {
			return
		}
		if words := errorText(err); words != said {
			if said = words; words != "" {
				log.Warn("not everybody is told yet; it is tried again", "error", words)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-minute.C:
		}
	}
}

// tellAgain is one pass of the loop.
func tellAgain(ctx context.Context, folder site.Folder, e env) error {
	c, err := folder.Load(sitefolder.CronLine)
	if err != nil || c.Tell.Mail == nil && c.Tell.Webhook == nil {
		return nil // a night tells what is wrong with site.yaml
	}
	facts, err := sourceFacts(folder, e.now())
	if err != nil {
		return err
	}
	if err := post.Change(ctx, folder, func(m *tell.Memory) {
		m.Learn(facts, e.now())
		m.Alarms(settings(c), e.now())
		if c.Tell.Digest != site.Nightly {
			pass(m, c, e.now())
		}
	}); err != nil {
		return err
	}
	return post.Deliver(ctx, folder, post.Channels(folder, c.Tell), e.now)
}

func errorText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// nightFacts says how the night went.
func nightFacts(exit int, err error) tell.Facts {
	f := tell.Facts{Known: []tell.Kind{tell.Night}}
	if exit == exitDone || exit == exitPerson || exit == exitInterrupted || errors.Is(err, context.Canceled) {
		return f
	}
	f.List = []tell.Fact{{
		Key: "night", Kind: tell.Night, Where: "the last night", Alarm: true,
		What: "it failed: " + err.Error(), Do: "mend it and run `wane nightly`; until then nothing new is known",
	}}
	return f
}
