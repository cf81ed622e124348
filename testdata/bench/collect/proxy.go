package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"io"
	"net"
	"strconv"
	"sync"
	"sync/atomic"
)

// proxy stands between wane and the broker and reads along (MQTT 5.0, sections 2.1
// and 3.3: fixed header, then of a PUBLISH topic, packet id and properties).
type proxy struct {
	addr, to   string
	ln         net.Listener
	subscribed atomic.Int64

	mu        sync.Mutex
	delivered map[int]int // how often each message was, by its number
	anew      map[int]int // of that: not marked as a repetition
	acked     map[int]bool
}

// The packet types that are read.
const (
	publishType, pubackType, subackType = 3, 4, 9
)

func startProxy(to string) (*proxy, error) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	p := &proxy{addr: ln.Addr().String(), to: to, ln: ln, delivered: map[int]int{}, anew: map[int]int{}, acked: map[int]bool{}}
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go p.serve(c)
		}
	}()
	return p, nil
}

func (p *proxy) count() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.delivered)
}

func (p *proxy) serve(c net.Conn) {
	defer c.Close()
	s, err := net.Dial("tcp", p.to)
	if err != nil {
		return
	}
	defer s.Close()
	ids := map[uint16]int{} // message by packet id, of this connection
	go func() {
		defer c.Close()
		defer s.Close()
		copyPackets(c, s, func(head byte, body []byte) {
			switch head >> 4 {
			case subackType:
				p.subscribed.Add(1)
			case publishType:
				p.publish(ids, head, body)
			}
		})
	}()
	copyPackets(s, c, func(head byte, body []byte) {
		if head>>4 == pubackType && len(body) >= 2 {
			p.mu.Lock()
			defer p.mu.Unlock()
			if n, ok := ids[binary.BigEndian.Uint16(body)]; ok {
				p.acked[n] = true
			}
		}
	})
}

func (p *proxy) publish(ids map[uint16]int, head byte, body []byte) {
	id, n, ok := published(head, body)
	if !ok {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	ids[id] = n
	p.delivered[n]++
	if head&8 == 0 {
		p.anew[n]++
	}
}

// copyPackets hands packets on, showing each to fn before.
func copyPackets(to io.Writer, from io.Reader, fn func(head byte, body []byte)) {
	in := bufio.NewReader(from)
	for {
		head, err := in.ReadByte()
		if err != nil {
			return
		}
		length, err := binary.ReadUvarint(in) // the same coding as the standard's, below 2^28
		if err != nil || length > 1<<28 {
			return
		}
		body := make([]byte, length)
		if _, err := io.ReadFull(in, body); err != nil {
			return
		}
		fn(head, body)
		if _, err := to.Write(append(binary.AppendUvarint([]byte{head}, length), body...)); err != nil {
			return
		}
	}
}

// published reads packet id and number of a message with QoS 1.
func published(head byte, body []byte) (id uint16, n int, ok bool) {
	if head>>1&3 != 1 || len(body) < 2 {
		return 0, 0, false
	}
	body = body[2+int(binary.BigEndian.Uint16(body)):]
	id = binary.BigEndian.Uint16(body)
	r := bytes.NewReader(body[2:])
	skip, err := binary.ReadUvarint(r)
	if err != nil {
		return 0, 0, false
	}
	payload := body[len(body)-r.Len()+int(skip):]
	var m struct{ V int }
	if json.Unmarshal(payload, &m) != nil {
		if m.V, err = strconv.Atoi(string(payload)); err != nil {
			return 0, 0, false
		}
	}
	return id, m.V, true
}
