package delimited

import (
	"bytes"

	"wane/ingest/decode/number"
	"wane/ingest/source"
)

// cellAt gives the cell of a clean line that begins at i, untrimmed and without
// quotes, and where it ends: at the next delimiter or the end of the line. ok is
// false for zero bytes, and for quotes other than one around the whole cell.
func cellAt(text []byte, i int, delim, quote byte) (cell []byte, end int, ok bool) {
	if quote != 0 && i < len(text) && text[i] == quote {
		k := bytes.IndexByte(text[i+1:], quote)
		if k < 0 {
			return nil, 0, false
		}
		cell, end = text[i+1:i+1+k:i+1+k], i+k+2
		return cell, end, (end == len(text) || text[end] == delim) && bytes.IndexByte(cell, 0) < 0
	}
	for end = i; end < len(text) && text[end] != delim; end++ {
		if text[end] == 0 || text[end] == quote {
			return nil, 0, false
		}
	}
	return text[i:end:end], end, true
}

// begins tells whether the cell at i is these bytes, which hold no delimiter.
func begins(text []byte, i int, cell string, delim byte) bool {
	end := i + len(cell)
	return end <= len(text) && string(text[i:end]) == cell && (end == len(text) || text[end] == delim)
}

// oddValue reads a value that is not just a short decimal: blank, missing,
// quoted, padded, long, grouped or with an exponent.
func (t *table) oddValue(text []byte, i, k int) (end int, ok bool) {
	cell, end, ok := cellAt(text, i, t.cut.delim, t.cut.quote)
	if !ok {
		return 0, false
	}
	cell = trimmed(cell)
	v := &t.values[k]
	n, st := t.notation.Parse(cell)
	if st == number.OK && !v.codes.Has(n) {
		t.clean.values[k], t.clean.state[k] = n, isValue
		return end, true
	}
	if len(cell) > 0 && st != number.OK && !among(v.texts, cell) {
		return 0, false
	}
	t.clean.state[k] = isMissing
	t.clean.missing++
	return end, true
}

// among is slices.Contains for bytes.
func among(list []string, b []byte) bool {
	for _, s := range list {
		if s == string(b) {
			return true
		}
	}
	return false
}

// scanStamp reads the stamp where it stands in one column. A stamp printed just
// as the last one says the same.
func (t *table) scanStamp(text []byte, i int) (end int, ok bool) {
	c := &t.clean
	if n := len(c.rawStamp); n > 0 && i+n < len(text) && text[i+n] == t.cut.delim &&
		string(text[i:i+n]) == string(c.rawStamp) {
		return i + n, true
	}
	cell, end, ok := cellAt(text, i, t.cut.delim, t.cut.quote)
	if !ok {
		return 0, false
	}
	cell = trimmed(cell)
	m, bad := t.parser.Parse(cell)
	if bad != nil {
		return 0, false
	}
	c.rawStamp = append(c.rawStamp[:0], text[i:end]...)
	c.stamp, c.moment = append(c.stamp[:0], cell...), m
	return end, true
}

// joinStamp reads the stamp where it stands in several columns.
func (t *table) joinStamp() (ok bool) {
	c := &t.clean
	t.joined = t.joined[:0]
	for k, cell := range c.stamps {
		if k > 0 {
			t.joined = append(t.joined, ' ')
		}
		t.joined = append(t.joined, trimmed(cell)...)
	}
	m, bad := t.readStamp(t.joined)
	if bad != nil {
		return false
	}
	c.stamp, c.moment = t.joined, m
	return true
}

// scanSensor finds the line's sensor among those met.
func (t *table) scanSensor(text []byte, i int) (end int, ok bool) {
	c := &t.clean
	next := int32(0)
	if t.d.Layout == source.Long {
		if int(c.pair) < len(t.pairList) {
			next = t.pairList[t.pairList[c.pair].next].sen
		}
	} else if int(c.sen) < len(t.known) {
		next = t.known[c.sen].next
	}
	if int(next) < len(t.known) && t.known[next].bare && begins(text, i, t.known[next].name, t.cut.delim) {
		c.sen = next
		return i + len(t.known[next].name), true
	}
	cell, end, ok := cellAt(text, i, t.cut.delim, t.cut.quote)
	if !ok {
		return 0, false
	}
	id, ok := t.sensors[string(trimmed(cell))]
	if !ok {
		return 0, false
	}
	if t.d.Layout == source.Wide {
		t.known[c.sen].next = id
	}
	c.sen = id
	return end, true
}

// scanChannel finds the line's channel among those met.
func (t *table) scanChannel(text []byte, i int) (end int, ok bool) {
	c := &t.clean
	if int(c.pair) < len(t.pairList) {
		next := t.pairList[t.pairList[c.pair].next].ch
		if name := &t.channelNames[next]; name.bare && begins(text, i, name.name, t.cut.delim) {
			c.ch = next
			return i + len(name.name), true
		}
	}
	cell, end, ok := cellAt(text, i, t.cut.delim, t.cut.quote)
	if !ok {
		return 0, false
	}
	c.ch, ok = t.channels[string(trimmed(cell))]
	return end, ok
}

// settlePair finds the series of the line's sensor and channel.
func (t *table) settlePair() (ok bool) {
	c := &t.clean
	if int(c.pair) >= len(t.pairList) {
		return false
	}
	before := &t.pairList[c.pair]
	if next := &t.pairList[before.next]; next.sen == c.sen && next.ch == c.ch {
		c.pair = before.next
		return true
	}
	i, ok := t.pairs[pairKey(c.sen, c.ch)]
	if !ok {
		return false
	}
	before.next, c.pair = i, i
	return true
}
