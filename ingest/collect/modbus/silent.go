package modbus

import (
	"io"
	"log"
)

// silent keeps the library from writing to standard error: what went wrong is in
// its errors.
var silent = log.New(io.Discard, "", 0)
