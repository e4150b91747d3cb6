#!/bin/sh
# Every check of the project on a fresh checkout: lint, types, arrows, schema, tests with coverage, benchmarks, wheel.
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh
make_environment test
bin=.venv/bin

say() { printf '\n== %s\n' "$1"; }

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
$bin/python -m pytest -n 2 --cov --cov-report= --ignore=tests/bench
$bin/coverage report --include='engine/*' --fail-under=90 --skip-covered --skip-empty | tail -n 40
$bin/coverage report --include='bot/*' --fail-under=85 --skip-covered --skip-empty | tail -n 40

say "benchmarks"
$bin/python -m pytest tests/bench -q --benchmark-columns=min,median,rounds --benchmark-disable-gc

say "the wheel works outside the repository"
sh deploy/wheel.sh "$scratch"

say "all checks passed"
