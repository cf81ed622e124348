package source

// collectKeys documents messages and collect, in the order of the types.
func collectKeys() []Key {
	keys := []Key{
		{"messages[].topic", "", "", "which topics this line speaks of: + is one level, # at the end the rest; {1} of sensor and channel is what the first of them stood for; the first line that fits counts; required for what mqtt brings"},
		{"messages[].payload", "number", "", "what a message is: a plain number, a json object, or a senml pack"},
		{"messages[].sensor", "", "", "the sensor, such as \"{1}\""},
		{"messages[].channel", "", "", "the channel; SenML: that of names that have no / or :"},
		{"messages[].time", "", "RFC 9535", "JSON path of the time of measuring, in the form of time.format (rfc3339 by default) and zone; without it, when the message came counts, and what a broker had retained is left out: it does not tell when it was measured"},
		{"messages[].values[].path", "", "RFC 9535", "JSON path of a value"},
		{"messages[].values[].sensor", "", "", "the value's sensor, when it is not the message's"},
		{"messages[].values[].channel", "", "", "the value's channel, when it is not the message's"},

		{"collect.every", "", "", "how often the source is asked: 30s, 15m, 6h, 1d; counted from midnight UTC"},
		{"collect.cron", "", "", "in place of every: five fields (minute hour day month weekday) in the site's zone"},
		{"collect.timeout", "1m", "", "how long one try may take"},
		{"collect.retries", "2", "", "how often a failed try is repeated before the next time, after a growing pause"},
		{"collect.first", "", "", "how far back the first collection goes, such as 30d; all there is where it is not said"},
		{"collect.limit", "64MB", "", "the largest answer, file or message that is taken"},
	}
	keys = append(keys, httpKeys()...)
	keys = append(keys, mqttKeys()...)
	keys = append(keys, modbusKeys()...)
	keys = append(keys, folderKeys()...)
	return append(keys,
		Key{"collect.push.listen", "127.0.0.1:8471", "",
			"where `wane run` listens for POST /push/NAME; only this machine unless told otherwise; sources may share an address"},
		Key{"collect.push.token", "", "", "the token that the logger sends as Authorization: Bearer …; required; " +
			secretWords},
		Key{"collect.push.rate", "2", "", "requests a second that are taken at most; ten seconds' worth may come at once"},
		Key{"collect.push.cert", "", "", "certificate file (PEM) for TLS"},
		Key{"collect.push.certKey", "", "", "its key (PEM)"},
		Key{"collect.push.noTLS", "", "", "the word " + BehindProxy +
			" lets an address that other machines reach do without TLS"},
	)
}

const secretWords = "env:NAME, or file:PATH of a file that only its owner may read (0600)"

func httpKeys() []Key {
	const at = "collect.http."
	return append([]Key{
		{at + "url", "", "", "what is asked for by GET; required"},
		{at + "bearer", "", "", "token sent as Authorization: Bearer …; " + secretWords},
		{at + "user", "", "", "who logs in (basic authentication)"},
		{at + "password", "", "", "with which password; " + secretWords},
		{at + "keyHeader", "", "", "name of a header that holds a key"},
		{at + "key", "", "", "that key; " + secretWords},
		{at + "headers", "", "", "other headers, such as {Accept: text/csv}; none of them secret"},
		{at + "since.param", "", "", "query parameter that asks for what is new since the last collection"},
		{at + "since.format", "rfc3339", "", "how its time is written: rfc3339, date, epoch-s or epoch-ms"},
		{at + "since.overlap", "1h", "", "how much earlier than the last collection is asked for, for what the source itself got late"},
		{at + "cursor.param", "", "", "query parameter that hands the answer's cursor back"},
		{at + "cursor.path", "", "RFC 9535", "JSON path of the cursor in the answer"},
		{at + "next", "", "RFC 9535", "how an answer leads to its next page: link (Link header, RFC 8288), or the JSON path of the next address; followed on the same host only"},
		{at + "pages", "100", "", "pages that one collection reads at most; it goes on there the next time if a cursor says where"},
	}, tlsKeys(at)...)
}

func tlsKeys(at string) []Key {
	return []Key{
		{at + "tls.ca", "", "", "file of certificates (PEM) that are trusted in place of the system's"},
		{at + "tls.cert", "", "", "certificate file (PEM) of wane's own, where the server asks for one"},
		{at + "tls.certKey", "", "", "its key (PEM)"},
		{at + "tls.certificates", "", "", "the word " + Unchecked +
			" switches the check of the server's certificate off: whoever sits between can then read and change everything"},
	}
}

func mqttKeys() []Key {
	const at = "collect.mqtt."
	return append([]Key{
		{at + "broker", "", "", "address of the broker (MQTT 5): mqtts://host:8883, mqtt://host:1883, wss:// or ws://; required"},
		{at + "topics", "", "", "what is subscribed to, with + and #; required"},
		{at + "user", "", "", "who logs in"},
		{at + "password", "", "", "with which password; " + secretWords},
		{at + "client", "", "", "client id; by default one of wane's own that is kept with the source"},
		{at + "session", "7d", "", "how long the broker keeps what comes while wane is away"},
	}, tlsKeys(at)...)
}

func modbusKeys() []Key {
	const at = "collect.modbus."
	return []Key{
		{at + "address", "", "", "host:port of the device or gateway (Modbus TCP, port 502 by default); required"},
		{at + "unit", "1", "", "the device's unit id, 0 to 255"},
		{at + "registers[].address", "0", "", "the first register of the value, as it goes over the wire (a manual's 40001 is holding 0)"},
		{at + "registers[].kind", "holding", "", "holding or input"},
		{at + "registers[].type", "uint16", "", "uint16, int16, uint32, int32, float32, uint64, int64 or float64"},
		{at + "registers[].order", "high-first", "", "which word of a longer value comes first: high-first or low-first"},
		{at + "registers[].scale", "1", "", "what the number is multiplied by to be in the unit, such as 0.1"},
		{at + "registers[].unit", "", "", "the unit, for whoever reads this; the register (register/sensors.csv) says it to wane"},
		{at + "registers[].sensor", "", "", "the sensor; required"},
		{at + "registers[].channel", "", "", "the channel; required"},
	}
}

// folderKeys are those of the kinds that look into a folder.
func folderKeys() []Key {
	const (
		names   = "patterns (* ? [abc]) on a file's name; all where none is written"
		settled = "a file that changed within this time is left for the next time: it may still be being written"
	)
	keys := []Key{
		{"collect.sftp.address", "", "", "host:port (22 by default); required"},
		{"collect.sftp.user", "", "", "who logs in; required"},
		{"collect.sftp.password", "", "", "with which password; " + secretWords},
		{"collect.sftp.key", "", "", "or with which private key, unencrypted; " + secretWords},
		{"collect.sftp.knownHosts", "", "", "file of known host keys, as ssh has it"},
		{"collect.sftp.hostKey", "", "", "or the one key of this server, such as ssh-ed25519 AAAA…"},
		{"collect.sftp.folder", ".", "", "where the files lie"},
		{"collect.sftp.names", "", "", names},
		{"collect.sftp.settled", "2m", "", settled},
		{"collect.ftp.address", "", "", "host:port (21 by default, 990 for implicit); required"},
		{"collect.ftp.user", "anonymous", "", "who logs in"},
		{"collect.ftp.password", "", "", "with which password; " + secretWords},
		{"collect.ftp.security", "explicit", "", "explicit (TLS asked for after connecting), implicit, or plain: password and files pass unencrypted"},
		{"collect.ftp.folder", ".", "", "where the files lie"},
		{"collect.ftp.names", "", "", names},
		{"collect.ftp.settled", "2m", "", settled},
	}
	keys = append(keys, tlsKeys("collect.ftp.")...)
	keys = append(keys,
		Key{"collect.s3.endpoint", "", "", "address of the object store, such as https://objects.example; required"},
		Key{"collect.s3.region", "", "", "its region, where it has some"},
		Key{"collect.s3.bucket", "", "", "the bucket; required"},
		Key{"collect.s3.prefix", "", "", "what the objects' names begin with"},
		Key{"collect.s3.accessKey", "", "", "access key, none for a public bucket; " + secretWords},
		Key{"collect.s3.secretKey", "", "", "secret key; " + secretWords},
		Key{"collect.s3.names", "", "", "patterns on the last part of an object's name; all where none is written"},
	)
	return append(keys, tlsKeys("collect.s3.")...)
}
