package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"wane/ingest/archive"
	"wane/ingest/collect"
)

// judge compares what the archive holds with what was acknowledged.
func (w *world) judge(site string) error {
	messages, rows, blocks, err := stored(site)
	if err != nil {
		return err
	}
	lost, twice, ofBroker := 0, 0, 0
	for n := range w.proxy.acked {
		if messages[n] == 0 {
			lost++
		}
	}
	for n, k := range messages {
		switch {
		case k > 1 && w.proxy.anew[n] > 1:
			ofBroker++ // the killed broker forgot that it had sent it
		case k > 1:
			twice++
		}
	}
	var wrong []string
	fmt.Printf("messages: %d sent, %d delivered, %d of them more than once, %d acknowledged; stored %d; acknowledged and not stored: %d; stored twice: %d, and %d that the broker sent twice as new\n",
		w.sent, len(w.proxy.delivered), more(w.proxy.delivered), len(w.proxy.acked), len(messages), lost, twice, ofBroker)
	if lost+twice > 0 {
		wrong = append(wrong, "messages")
	}
	missing := 0
	for i := 1; i <= w.acked; i++ {
		if rows[i] != 1 {
			missing++
		}
	}
	fmt.Printf("http: %d pulls, %d rows, %d of them acknowledged by the cursor; of these not stored once: %d\n", w.pulls, w.rows, w.acked, missing)
	if missing+more(rows) > 0 {
		wrong = append(wrong, "http")
	}
	fmt.Printf("modbus: %d blocks of %d registers answered, %d stored, %d of them twice\n", w.blocks, registers, len(blocks), more(blocks))
	if more(blocks) > 0 {
		wrong = append(wrong, "modbus")
	}
	statuses, err := collect.ReadStatus(site)
	if err != nil {
		return err
	}
	for _, s := range statuses {
		fmt.Printf("source %s: %d polls missed, %d gaps\n", s.Source, s.Missed, len(s.Gaps))
	}
	if len(w.proxy.acked) < w.sent/2 || w.acked == 0 || len(blocks) == 0 {
		wrong = append(wrong, "too little was acknowledged for this to say anything")
	}
	if len(wrong) > 0 {
		return fmt.Errorf("not as it must be: %s", strings.Join(wrong, ", "))
	}
	return nil
}

// stored counts how often the archive holds each message, row and block, by number.
func stored(site string) (messages, rows, blocks map[int]int, err error) {
	a, err := archive.Open(filepath.Join(site, "archive"))
	if err != nil {
		return nil, nil, nil, err
	}
	messages, rows, blocks = map[int]int{}, map[int]int{}, map[int]int{}
	for _, p := range a.Parts(archive.Readings) {
		err = a.ReadReadings(p, func(r *archive.Run) error {
			into := messages
			switch r.Series.Sensor {
			case "logger":
				into = rows
			case "meter":
				if into = blocks; r.Series.Channel != "r0" {
					return nil
				}
			}
			for _, v := range r.Floats(nil) {
				into[int(v)]++
			}
			return nil
		})
		if err != nil {
			break
		}
	}
	return messages, rows, blocks, err
}

// more counts what is there more than once.
func more(m map[int]int) (n int) {
	for _, k := range m {
		if k > 1 {
			n++
		}
	}
	return n
}
