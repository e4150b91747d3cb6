#!/bin/sh
# Opens the local room: the real bot on an offline server with members, builds and a proposal. `--demo` plays the
# main job without input. Everything it stores stays in deploy/.local.
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh
make_environment local
exec .venv/bin/python -m bot.room "$@"
