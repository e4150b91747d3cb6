#!/bin/sh
# Copies a SQLite database while the bot runs: sh deploy/backup.sh buildmoot.db backup.db
# PostgreSQL: use pg_dump.
set -eu
[ $# -eq 2 ] || { echo "usage: backup.sh DATABASE COPY" >&2; exit 2; }
[ -f "$1" ] || { echo "there is no database $1" >&2; exit 2; }
[ ! -e "$2" ] || { echo "$2 exists already; name a new file" >&2; exit 2; }
umask 077
exec "${PYTHON:-python3}" - "$1" "$2" <<'PY'
import sqlite3
import sys

source = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True)
copy = sqlite3.connect(sys.argv[2])
with copy:
    source.backup(copy)
problems = [row[0] for row in copy.execute("PRAGMA integrity_check") if row[0] != "ok"]
copy.close()
if problems:
    sys.exit(f"the copy is damaged: {problems[0]}")
print(f"{sys.argv[2]} is a whole copy of {sys.argv[1]}")
PY
