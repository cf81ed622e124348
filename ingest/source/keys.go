package source

// Key documents one key of a description.
type Key struct {
	Path    string // dotted, [] for the items of a list
	Default string // as it would be written; "" where there is none
	Origin  string // "CSVW", "Frictionless", or "" for our own
	Meaning string
}

// Keys lists every key, in the order of the documentation. The package's tests
// hold it against the types.
func Keys() []Key {
	return append([]Key{
		{"name", "", "Frictionless", "short name of this source: letters, digits, - and _; required"},
		{"files", "", "", "glob patterns (* ? [abc]) on a file's base name, upper and lower case alike; the names of packed files are tried with and without .gz or .zip; required where nothing is collected"},
		{"from", "", "", "folders or files that are scanned besides inbox/"},
		{"format", "delimited", "", "delimited; senml (RFC 8428 JSON pack); jsonl (JSON lines in the plain form); parquet (columns of the plain form, or with time.columns its own); json (documents and lines of any shape, by paths); workbook (.xlsx); aligned (text whose cells are parted by runs of blanks, or stand at fixed places); lines (line protocol), exposition (metrics as text) and annotated-csv, where long.sensor may be series (the measurement with all tags, the default), measurement or a tag, and long.channel field (the default), measurement or a tag; plain (whichever needs no more words: the plain form as CSV, JSON lines or Parquet, or a SenML pack); what mqtt and modbus bring is in messages and registers"},

		{"encoding", "utf-8", "CSVW", "utf-8, utf-16, utf-16le, utf-16be, iso-8859-1 or windows-1252; a byte order mark always wins"},
		{"delimiter", ",", "CSVW", "one character between cells, or the word tab"},
		{"quoteChar", `"`, "CSVW", "the character around quoted cells (doubled inside them); none for no quoting"},
		{"commentPrefix", "", "CSVW", "lines that begin with this text are passed over"},
		{"skipRows", "0", "CSVW", "title lines before the header, counted as lines of the file"},
		{"headerStartsWith", "", "", "in place of skipRows: the header block begins at the first line that begins with this text"},
		{"headerRowCount", "1", "CSVW", "lines of the header block, 0 to 9; with 0 columns are named by position"},
		{"nameRow", "1", "", "which line of the header block holds the column names"},
		{"unitRow", "", "", "which line of the header block holds the units; a column whose unit differs from the declared one stops the file"},
		{"footerPrefixes", "", "", "a line that begins with one of these ends the data; it and what follows is passed over, and rows behind it are rejected"},
		{"shortLines", "reject", "", "what to do with a line that has too few cells: reject it, or take the lacking cells as blank"},
		{"decimalChar", ".", "CSVW", "the decimal sign of numbers, . or ,"},
		{"groupChar", "", "CSVW", "the thousands mark of numbers: a comma, point, blank, or apostrophe; none if empty"},
		{"missingValues", "", "Frictionless", "codes that stand for no value; numbers fit by value (-9999 is -9999.00 too); a blank cell is always missing"},
		{"cellUnits", "", "", "units that stand behind the numbers in their cells (18,3 degC) and are taken off; a number with another unit is a reject"},

		{"json.rows", "", "RFC 9535", "JSONPath of the values that are rows, such as $.data[*]; $ where each document or line is a row. Columns are named by paths too: $.data[*].time is asked of the row, $.id or $.devices[*].id of what the row lies in; key is the name under which it lies, and key of $.data[*] that of what it lies in; a text that is JSON by itself, as a payload is, is gone into"},
		{"json.lists", "", "RFC 9535", "in place of rows: JSONPath of an object of lists of one length, whose k-th items are a row"},
		{"json.names", "", "RFC 9535", "where rows are lists: JSONPath of the names of their items, as a list of texts or one by one ($.columns, $.columns[*].text)"},
		{"sheet", "", "", "the sheet of a workbook, by name; not needed where one sheet only holds anything"},
		{"columnStarts", "", "", "aligned text: the places at which cells begin, 1 for the first character; a line whose text runs across such a place is a reject; without it runs of blanks part the cells, and a blank one makes a line too short"},

		{"zone", "", "", "where the logger's clock is set: an IANA name (Europe/Amsterdam), a fixed offset (+01:00, UTC), or header (a title or header line states UTC+2 or the like); not needed where each stamp has its offset"},
		{"time.columns", "", "", "the columns of the time stamp, by name or position; several are joined by a blank"},
		{"time.format", "", "CSVW", "how the stamp is written: Unicode TR 35 letters (yyyy-MM-dd HH:mm:ss, d.M.yyyy, M/d/yyyy h:mm a, yyyy DDD HHmm), rfc3339, epoch-s (-ms, -us, -ns), or serial-days (a spreadsheet's day number)"},
		{"time.shift", "", "", "what is added to each stamp, such as -1h where hours are printed at their end and are to be stored at their beginning; at most a day"},

		{"layout", "wide", "", "wide: a column a channel; long: one value a line; days: a day a line, a column a time of day"},
		{"sensor", "", "", "the sensor of all columns that name none; {1} is filled by sensorFrom"},
		{"sensorFrom.fileName", "", "", "regular expression on the file's base name; its groups fill {1} of sensor (sensor is {1} by default)"},
		{"sensorFrom.headerLine", "", "", "the same on the title and header lines"},
		{"sensorFrom.column", "", "", "the column that holds the sensor's name on each line"},
		{"sensorFrom.columns", "", "", "several columns that name the sensor together, joined by /"},
		{"channel", "", "", "long files without a channel column, and files of a day a line: the channel of all values; SenML: the channel of names that have no / or :"},
		{"columns[].name", "", "Frictionless", "a value column, by header name"},
		{"columns[].position", "", "", "the same, by position; 1 is the first column"},
		{"columns[].match", "", "", "regular expression on header names: every column it fits; its groups fill {1} of sensor and channel"},
		{"columns[].sensor", "", "", "the column's sensor, when it is not the file's"},
		{"columns[].channel", "", "", "the column's channel; required"},
		{"columns[].unit", "", "", "the unit as the file prints it; checked against unitRow"},
		{"columns[].flag", "", "", "the column that holds the status of this one"},
		{"columns[].goodFlags", "", "", "statuses with which a value is taken; others send it to quarantine"},
		{"columns[].missingValues", "", "Frictionless", "missing codes of this column, besides the general ones"},
		{"long.sensor", "", "", "the column that holds the sensor's name; sensor or sensorFrom in its place"},
		{"long.channel", "", "", "the column that holds the channel; channel in its place"},
		{"long.value", "", "", "the column that holds the value; required for long"},
		{"long.flag", "", "", "the column that holds the status"},
		{"long.goodFlags", "", "", "statuses with which a value is taken"},
		{"days.first", "", "", "the first column of the day, by name or position; required for days"},
		{"days.count", "", "", "how many columns the day has: 24, 48, 96 or another even part; required for days"},
		{"days.begin", "00:00", "", "the time of day at which the value of the first column is stored"},
		{"days.unit", "", "", "the unit of the values"},
	}, collectKeys()...)
}
