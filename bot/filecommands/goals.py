"""`buildmoot goals`: which goals are met, from which level, by what margin."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, read_build
from engine.audit import goal_json
from engine.audit.context import AuditContext
from engine.audit.goals import goals_of
from engine.publish.words import still_open


def run(args: argparse.Namespace) -> int:
    """Print the goals. Exit 1 if one is unmet."""
    build, catalog = read_build(args.file, Shelf(args.folio))
    context = AuditContext.of(build, catalog)
    results = goals_of(context)
    if args.json:
        print_json({"goals": [goal_json(r) for r in results]})
    else:
        for r in results:
            state = "no measure" if r.met is None else "met" if r.met else "not met"
            since = f" from level {r.from_level}" if r.from_level else ""
            over = "" if r.margin is None else f", {abs(r.margin):g} {'to spare' if r.margin >= 0 else 'short'}"
            nearest = f" (nearest: {r.nearest})" if r.nearest else ""
            print(f"{state}{since}{over}: {r.text}{nearest}")
        if left := still_open(context, build.top):
            print(f"Partial: {left}.")
    return int(any(r.met is False for r in results))
