package archive

import (
	"fmt"
	"time"
)

// partition is a stretch of time whose rows lie together: a UTC month, or one
// day of the month that is the table's latest.
type partition struct {
	month int32 // months since 1970-01
	day   int32 // 1 to 31, or 0 for the whole month
}

// hive gives the folders of a partition. A whole month has a day too, "all", so
// that every path of a table has the same keys, which readers insist on.
func (p partition) hive() string {
	day := "all"
	if p.day > 0 {
		day = fmt.Sprintf("%02d", p.day)
	}
	return fmt.Sprintf("month=%04d-%02d/day=%s", 1970+p.month/12, p.month%12+1, day)
}

// parsePartition is the reverse of hive.
func parsePartition(s string) (partition, error) {
	var y, m, d int32
	if n, err := fmt.Sscanf(s, "month=%4d-%2d/day=%2d", &y, &m, &d); n == 2 && err != nil {
		d = 0
	} else if err != nil {
		return partition{}, fmt.Errorf("%q is not a partition", s)
	}
	p := partition{(y-1970)*12 + m - 1, d}
	if p.hive() != s {
		return partition{}, fmt.Errorf("%q is not a partition", s)
	}
	return p, nil
}

// monthOf gives the month of a time in microseconds, and its bounds.
func monthOf(at int64) (month int32, from, to int64) {
	t := time.UnixMicro(at).UTC()
	month = int32(t.Year()-1970)*12 + int32(t.Month()) - 1
	return month, monthStart(month), monthStart(month + 1)
}

func monthStart(month int32) int64 {
	return time.Date(1970, time.Month(month+1), 1, 0, 0, 0, 0, time.UTC).UnixMicro()
}

const dayMicros = 24 * 3600 * 1e6

// partitionOf gives the partition of a time, where the table's latest row lies
// in the month latest.
func partitionOf(at int64, latest int32) partition {
	month, from, _ := monthOf(at)
	p := partition{month: month}
	if month >= latest {
		p.day = int32((at-from)/dayMicros) + 1
	}
	return p
}
