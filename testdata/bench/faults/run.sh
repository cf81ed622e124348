#!/bin/sh
# A fault campaign against the archive: random kills (SIGKILL to the process, at
# any operation on the disk) and injected I/O errors (disk full, permission
# denied, short write, I/O error), one to three in a row, 1,000 rounds, each
# followed by a sound run whose archive must equal an undisturbed one byte for
# byte; before that, every single operation is killed and failed once in each
# way. Stops by itself; exit status 0 means nothing was lost and nothing doubled.
#
#	testdata/bench/faults/run.sh [ROUNDS]
set -eu
cd "$(dirname "$0")/../../.."
WANE_FAULT_ROUNDS="${1:-1000}" exec go test ./ingest/archive -count=1 -timeout 2h -v \
	-run 'TestDiskFails|TestDiskStaysFull|TestKilledAtEveryStep|TestFaultCampaign'
