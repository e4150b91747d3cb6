#!/bin/sh
# Builds the wheel and uses it from an empty folder: folios, grammars and migrations must come along.
# $1: a scratch folder. Run from the repository's top by check.sh.
set -eu
scratch=$1
python=$(pwd)/.venv/bin/python
"$python" -m build --quiet --wheel --outdir "$scratch/dist" .
rm -rf build
"$python" -m pip install --quiet --disable-pip-version-check --no-deps --target "$scratch/site" "$scratch"/dist/*.whl
# Whatever is no code must come along, whichever folder it stands in.
find bot engine migrations -type f ! -name '*.py' ! -name '*.pyc' >"$scratch/files"
while read -r file; do
    [ -f "$scratch/site/$file" ] || { echo "wheel: $file is missing" >&2; exit 1; }
done <"$scratch/files"
cp tests/data/reed-warden.outline "$scratch/build.outline"
cd "$scratch"
export PYTHONPATH="$scratch/site" XDG_CACHE_HOME="$scratch/cache"
"$python" - "$scratch/site" <<'PY'
import pathlib
import sys

import bot
import engine
import migrations

site = pathlib.Path(sys.argv[1]).resolve()
for package in (bot, engine, migrations):
    place = pathlib.Path(next(iter(package.__path__))).resolve()
    assert site in place.parents, f"{package.__name__} was not taken from the wheel but from {place}"
tops = {p.name for p in site.iterdir() if p.is_dir() and not p.name.endswith(".dist-info")} - {"bin"}
assert tops == {"bot", "engine", "migrations"}, tops
PY
"$python" -m bot.cli sheet build.outline --level 8 --json >sheet.json
"$python" - <<'PY'
import json

numbers = json.load(open("sheet.json"))["numbers"]
assert numbers["hp.max"]["value"] == 56, numbers["hp.max"]
PY
"$python" -m bot.cli facts spell "Fog Cloud" --json >/dev/null
BUILDMOOT_DATABASE_URL="sqlite+aiosqlite:///$scratch/wheel.db" "$python" -m bot.cli migrate
echo "wheel: sheet, facts and migrate work"
