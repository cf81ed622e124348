package post

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"time"

	"github.com/gofrs/flock"

	"wane/cmd/wane/internal/tell"
	"wane/ingest/site"
)

const (
	memoryFile = ".wane-tell.json"
	lockFile   = ".wane-tell.lock"
)

// Load gives what people of a site were told; an empty memory where nobody was
// told anything yet.
func Load(folder site.Folder) (*tell.Memory, error) {
	m := &tell.Memory{}
	b, err := os.ReadFile(folder.Path(memoryFile))
	if errors.Is(err, fs.ErrNotExist) {
		return m, nil
	}
	if err == nil {
		err = json.Unmarshal(b, m)
	}
	if err != nil {
		return nil, fmt.Errorf("read what was told: %w; remove %s to tell everything again", err, memoryFile)
	}
	return m, nil
}

func save(folder site.Folder, m *tell.Memory) error {
	b, err := json.MarshalIndent(m, "", " ")
	if err == nil {
		err = site.WriteFile(folder.Path(memoryFile), append(b, '\n'))
	}
	if err != nil {
		return fmt.Errorf("keep what was told: %w", err)
	}
	return nil
}

// Change changes the memory under its lock and keeps it.
func Change(ctx context.Context, folder site.Folder, change func(*tell.Memory)) error {
	return locked(ctx, folder, func() error {
		m, err := Load(folder)
		if err != nil {
			return err
		}
		before, err := json.Marshal(m)
		if err != nil {
			return err
		}
		change(m)
		if after, err := json.Marshal(m); err != nil || bytes.Equal(before, after) {
			return err
		}
		return save(folder, m)
	})
}

// locked holds the memory against the daemon and a night run by hand at once.
func locked(ctx context.Context, folder site.Folder, do func() error) (err error) {
	lock := flock.New(folder.Path(lockFile))
	if _, err := lock.TryLockContext(ctx, 100*time.Millisecond); err != nil {
		return fmt.Errorf("lock what was told: %w", err)
	}
	defer func() { err = errors.Join(err, lock.Unlock()) }()
	return do()
}

// Deliver sends what may be sent now, and notes after each what became of it. The
// error joins what could not be sent, which stays for a later call, as does what would
// have gone by the same channel.
func Deliver(ctx context.Context, folder site.Folder, channels []Channel, now func() time.Time) error {
	var failed []error
	open := names(channels)
	err := locked(ctx, folder, func() error {
		m, err := Load(folder)
		if err != nil || len(m.Outbox) == 0 {
			return err
		}
		for {
			id, name, ok := m.Due(open, now())
			if !ok {
				return nil
			}
			err := send(ctx, channels, name, *m.Message(id))
			switch {
			case err == nil:
				m.Sent(id, name, names(channels))
			case ctx.Err() != nil:
				return ctx.Err()
			default:
				failed = append(failed, fmt.Errorf("not yet told by %s: %w", name, err))
				m.Failed(id, name, err.Error(), now())
				open = slices.DeleteFunc(open, func(c string) bool { return c == name }) // its next message would fare alike
			}
			if err := save(folder, m); err != nil {
				return err
			}
		}
	})
	return errors.Join(append(failed, err)...)
}

func send(ctx context.Context, channels []Channel, name string, m tell.Message) error {
	for _, c := range channels {
		if c.Name() == name {
			return c.Send(ctx, m)
		}
	}
	return fmt.Errorf("there is no channel %s", name)
}
