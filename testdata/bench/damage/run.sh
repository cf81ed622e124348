#!/bin/sh
# A damage campaign against the archive: files that are lost, emptied, cut,
# flipped, zeroed, rewritten, exchanged, doubled or rolled back, of every table and
# of originals, lists and the manifest, each followed by a night, a check, a
# repair or a rebuild. What comes of it must be the undisturbed archive byte for
# byte, or a refusal in words after which the file brought back makes it so.
# Stops by itself; exit status 0 means none was silent, none ended in a panic.
#
#	testdata/bench/damage/run.sh [DAMAGES]
set -eu
cd "$(dirname "$0")/../../.."
WANE_DAMAGES="${1:-500}" exec go test ./cmd/wane -count=1 -timeout 2h -v -run 'TestDamages$'
