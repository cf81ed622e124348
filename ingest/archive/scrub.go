package archive

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"
)

// The archive is verified a share a night, so that a disk that lies is found out
// while there are backups. Files are dealt into shares by the first two digits
// of their SHA-256; scrub.json says on which day each share was last verified.
// Without it, or where it is damaged, all begins anew and nothing is lost.
const (
	scrubName   = "scrub.json"
	shares      = Shares
	shareNights = 30        // all is verified within so many
	leastScrub  = 128 << 20 // bytes a night, if there are so many: a small archive is verified whole
)

// Shares is into how many shares the files are dealt.
const Shares = 256

// scrubState is scrub.json: days since 1970, 0 for never.
type scrubState struct {
	Verified [shares]int32 `json:"verified"`
}

func readScrub(dir string) (s scrubState) {
	b, err := os.ReadFile(filepath.Join(dir, scrubName))
	if err != nil || json.Unmarshal(b, &s) != nil {
		return scrubState{}
	}
	return s
}

// held is a file that the archive answers for.
type held struct {
	path   string // in the archive folder
	bytes  int64  // -1: not written down
	sha    string
	table  string // of a part; "" for an original
	damage error
}

func (h *held) share() int {
	var n int
	if _, err := fmt.Sscanf(h.sha, "%02x", &n); err != nil {
		return 0
	}
	return n
}

// Scrubbed is what a night's share of verifying did.
type Scrubbed struct {
	Report
	Bytes  int64    // verified now
	Oldest int32    // day on which the share that waits longest was last verified; 0: never
	Sent   []string // what the bucket lacked and has now
	Healed []string // what was damaged here and came from the bucket
	Swept  []string // leftovers that were removed
}

// Scrub verifies a share of the archive, those first that wait longest, and all
// that tells what was imported. What it finds is for Repair, but for originals: those
// are remembered under the lock, so that a copy that turns up heals them.
func Scrub(ctx context.Context, l *Lock, now time.Time) (*Scrubbed, error) {
	s := &Scrubbed{}
	m, err := loadForWriting(l)
	if err != nil {
		return nil, err
	}
	all, err := s.list(l, m)
	if err != nil {
		return nil, err
	}
	today := int32(now.Unix() / 86400)
	state := readScrub(l.dir)
	chosen := choose(all, &state, today)
	if err := verifyAll(ctx, l, chosen); err != nil {
		return nil, err
	}
	s.gather(l, chosen)
	if err := s.bucket(ctx, l, m, now); err != nil {
		return nil, err
	}
	journal, err := readJournal(l.dir)
	if err != nil {
		return nil, err
	}
	if journal == nil { // else Begin clears up, which knows what to keep
		if s.Swept, err = sweep(l.fs, l.dir, m); err != nil {
			return nil, err
		}
	}
	s.Oldest = slices.Min(state.Verified[:])
	if journal != nil {
		return s, nil // what a killed run left in the making would be in the way
	}
	return s, state.save(l)
}

// list gives all files that the archive answers for. What tells what was imported
// is looked at whole, here.
func (s *Scrubbed) list(l *Lock, m *Manifest) ([]*held, error) {
	var all []*held
	for _, p := range m.Parts {
		all = append(all, &held{path: filepath.FromSlash(p.Path), bytes: p.Bytes, sha: p.SHA256, table: p.Table})
	}
	a := view(l.dir, m, l.seen)
	files, err := a.Files()
	if errors.Is(err, ErrDamaged) {
		s.damaged(Finding{Path: Files, What: err.Error(), Do: doRepair})
		return all, nil
	}
	if err != nil {
		return nil, err
	}
	if err := s.sidecars(a, files); err != nil {
		return nil, err
	}
	return append(all, originalsOf(files)...), nil
}

// bucket has the bucket hold all that the copy does, and no more than need be.
func (s *Scrubbed) bucket(ctx context.Context, l *Lock, m *Manifest, now time.Time) (err error) {
	if l.far == nil || l.far.m == nil {
		return nil
	}
	if s.Sent, err = l.far.complete(ctx, view(l.dir, m, l.seen)); err != nil {
		return err
	}
	s.Healed = l.far.healed
	_, err = l.far.clear(now)
	return err
}

// choose picks the shares of the night and marks them as verified today.
func choose(all []*held, state *scrubState, today int32) (chosen []*held) {
	var by [shares][]*held
	for _, h := range all {
		by[h.share()] = append(by[h.share()], h)
	}
	order := make([]int, shares)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(state.Verified[a], state.Verified[b]) })
	bytes := int64(0)
	for n, i := range order {
		due := state.Verified[i] != 0 && today-state.Verified[i] >= shareNights-1
		if n*shareNights >= shares && bytes >= leastScrub && !due {
			break
		}
		for _, h := range by[i] {
			bytes += max(h.bytes, 0)
		}
		chosen = append(chosen, by[i]...)
		state.Verified[i] = today
	}
	return chosen
}

func verifyAll(ctx context.Context, l *Lock, chosen []*held) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(2)
	for _, h := range chosen {
		g.Go(func() error {
			if h.damage = l.seen.whole(l.dir, h.path, h.bytes, h.sha); h.damage == nil && h.table != "" {
				l.seen.add(filepath.ToSlash(h.path))
			}
			return ctx.Err()
		})
	}
	return g.Wait()
}

func (s *Scrubbed) gather(l *Lock, chosen []*held) {
	for _, h := range chosen {
		s.Bytes += max(h.bytes, 0)
		switch {
		case h.damage == nil:
		case h.table == "":
			l.lost[h.sha] = true
			s.bad(h.path, doBackup, "%v", h.damage)
		case isBase(h.table):
			s.damaged(Finding{Path: filepath.ToSlash(h.path), What: h.damage.Error(), Do: doRepair})
		default:
			s.damaged(Finding{Path: filepath.ToSlash(h.path), What: h.damage.Error(), Do: doDerive, kind: ofDerived})
		}
	}
}

// damaged adds a finding that Repair can mend.
func (r *Report) damaged(f Finding) {
	f.mends = true
	r.Findings = append(r.Findings, f)
}

// Mends says whether Repair can mend something of what was found.
func (r *Report) Mends() bool {
	return slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.mends })
}

func (s *scrubState) save(l *Lock) error {
	b, err := json.Marshal(s)
	if err != nil {
		return err
	}
	if old, err := os.ReadFile(filepath.Join(l.dir, scrubName)); err == nil && string(old) == string(b)+"\n" {
		return nil
	}
	w, err := newWriter(l, 1)
	if err != nil {
		return err
	}
	err = w.placeBytes(append(b, '\n'), scrubName)
	if err == nil {
		err = w.syncFolders()
	}
	if err == nil {
		l.end()
	}
	return err
}

// Verified says how many days ago the archive's shares were last verified by the
// nights; never is how many were not.
func Verified(dir string, now time.Time) (least, most, never int) {
	today := int32(now.Unix() / 86400)
	least = -1
	for _, day := range readScrub(dir).Verified {
		if day == 0 {
			never++
			continue
		}
		age := int(max(0, today-day))
		if least < 0 || age < least {
			least = age
		}
		most = max(most, age)
	}
	return max(least, 0), most, never
}
