package source

import (
	"fmt"
	"math"
	"net"
	"regexp"
	"strconv"
	"strings"
)

var decimalForm = regexp.MustCompile(`^-?[0-9]{1,9}(\.[0-9]{1,9})?$`)

// decimal reads a short decimal number exactly.
func decimal(s string) (Decimal, bool) {
	if !decimalForm.MatchString(s) {
		return Decimal{}, false
	}
	whole, frac, _ := strings.Cut(s, ".")
	n, err := strconv.ParseInt(whole+frac, 10, 64)
	return Decimal{n, len(frac)}, err == nil && n != 0
}

func (c *checker) modbus(m *Modbus) {
	const at = "collect.modbus."
	if !strings.Contains(m.Address, "/") && m.Address != "" {
		if _, _, err := net.SplitHostPort(m.Address); err != nil {
			m.Address = net.JoinHostPort(strings.Trim(m.Address, "[]"), "502")
		}
	} else {
		c.bad(at+"address", fmt.Sprintf("%q is not an address", m.Address), "write host:port, such as meter.example:502")
	}
	if !c.doc.Has(at + "unit") {
		m.Unit = 1
	}
	if m.Unit < 0 || m.Unit > 255 {
		c.bad(at+"unit", fmt.Sprintf("%d is not between 0 and 255", m.Unit), "write the device's unit id")
	}
	if len(m.Registers) == 0 {
		c.bad(at+"registers", "no register", "write a line such as - {address: 100, type: float32, sensor: meter-1, channel: energy}")
	}
	seen := map[string]bool{}
	for i := range m.Registers {
		c.register(&m.Registers[i], fmt.Sprintf("%sregisters[%d]", at, i), seen)
	}
}

func (c *checker) register(r *Register, at string, seen map[string]bool) {
	def(&r.Kind, "holding")
	def(&r.Type, "uint16")
	def(&r.Order, "high-first")
	def(&r.Scale, "1")
	oneOf(c, at+".kind", r.Kind, "holding", "input")
	oneOf(c, at+".order", r.Order, "high-first", "low-first")
	oneOf(c, at+".type", r.Type, "uint16", "int16", "uint32", "int32", "float32", "uint64", "int64", "float64")
	if r.Address < 0 || r.Address+r.Words()-1 > math.MaxUint16 {
		c.bad(at+".address", fmt.Sprintf("%d is not between 0 and 65535", r.Address),
			"write the address that goes over the wire: a manual that counts holding registers from 40001 means 0 by it")
	}
	var ok bool
	if r.scale, ok = decimal(r.Scale); !ok {
		c.bad(at+".scale", fmt.Sprintf("%q is not a factor", r.Scale), "write such as 0.1")
	}
	if r.Sensor == "" || r.Channel == "" {
		c.bad(at, "no sensor or no channel", "write both, as in register/sensors.csv")
		return
	}
	name := r.Sensor + "/" + r.Channel
	if seen[name] {
		c.bad(at, fmt.Sprintf("%s stands twice", name), "one series has one register")
	}
	seen[name] = true
}
