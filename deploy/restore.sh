#!/bin/sh
# Puts a backup in the place of a SQLite database; the bot must be stopped: sh deploy/restore.sh backup.db buildmoot.db
# What stood there is kept beside it with the ending .before-restore.
set -eu
[ $# -eq 2 ] || { echo "usage: restore.sh COPY DATABASE" >&2; exit 2; }
[ -f "$1" ] || { echo "there is no backup $1" >&2; exit 2; }
umask 077
"${PYTHON:-python3}" - "$1" <<'PY'
import sqlite3
import sys

copy = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True)
if [row[0] for row in copy.execute("PRAGMA integrity_check")] != ["ok"]:
    sys.exit(f"{sys.argv[1]} is damaged and was not restored")
PY
if [ -e "$2" ]; then
    mv "$2" "$2.before-restore"
    for tail in -wal -shm; do
        [ ! -e "$2$tail" ] || mv "$2$tail" "$2.before-restore$tail"
    done
fi
cp "$1" "$2"
echo "$2 is restored from $1"
