#!/bin/sh
# A machine whose root cannot be written, with a system journal of its own, for the
# command that follows:   unshare --mount --map-root-user read_only_root.sh FOLDER COMMAND
# Only FOLDER can be written. What the journal got is in FOLDER/journal.json afterwards.
set -eu
folder=$1
shift
mount -t tmpfs tmpfs /run
mount -t tmpfs tmpfs /var/log
mkdir -p /run/systemd/journal /var/log/journal
/lib/systemd/systemd-journald treadle 2>/dev/null &
journald=$!
for _ in $(seq 100); do
    [ -S /run/systemd/journal.treadle/socket ] && break
    sleep 0.05
done
ln -s ../journal.treadle/socket /run/systemd/journal/socket
mount --bind "$folder" "$folder"
mount -o remount,bind,ro /
# Another mount of the same: a newer journald has a file open for writing there.
mount --bind /run /run
mount -o remount,bind,ro /run
code=0
"$@" || code=$?
journalctl --file /var/log/journal/*/system.journal -o json --no-pager \
    > "$folder/journal.json"
kill "$journald"
exit $code
