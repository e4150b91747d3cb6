#!/bin/sh
# Every check of the project on a fresh checkout: lint, types, arrows, schema, tests with coverage, benchmarks, wheel.
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh
make_environment test
bin=.venv/bin

say() { printf '\n== %s\n' "$1"; }

# covered FOLDER PERCENT: shows where most lines and branches are missed; fails if less than that is covered.
covered() {
    enough=0
    $bin/coverage report --include="$1/*" --fail-under="$2" --sort=miss --skip-covered --skip-empty \
        > "$scratch/covered" || enough=$?
    tail -n 30 "$scratch/covered"
    return "$enough"
}

say "lint"
$bin/ruff check .
$bin/ruff format --check .

say "types"
$bin/mypy

say "arrows between the layers"
$bin/lint-imports

say "models and migrations agree"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
BUILDMOOT_DATABASE_URL="sqlite+aiosqlite:///$scratch/check.db" $bin/alembic upgrade head
BUILDMOOT_DATABASE_URL="sqlite+aiosqlite:///$scratch/check.db" $bin/alembic check

say "tests with coverage"
# A worker that is done early takes tests over from the other one, so that both are busy to the end.
$bin/python -m pytest -n 2 --dist worksteal --cov --cov-report= --durations=15 --durations-min=5 --ignore=tests/bench
covered engine 95
covered bot 85

say "benchmarks"
$bin/python -m pytest tests/bench -q --benchmark-columns=min,median,rounds --benchmark-disable-gc

say "the wheel works outside the repository"
sh deploy/wheel.sh "$scratch"

say "all checks passed"
