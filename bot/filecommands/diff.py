"""`buildmoot diff`: changed choices, numbers and findings between two builds."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, read_build
from engine.audit import difference, difference_json


def run(args: argparse.Namespace) -> int:
    """Print the difference. Exit 1 if there is one."""
    shelf = Shelf(args.folio)
    before, catalog_before = read_build(args.before, shelf)
    after, catalog_after = read_build(args.after, shelf)
    found = difference(before, after, catalog_before, catalog_after)
    document = difference_json(found)
    if args.json:
        print_json(document)
    else:
        for change in document["choices"]:
            print(f"choice {change['path']}: {change['before']} -> {change['after']}")
        for word, goals in (("lost", found.goals_lost), ("met", found.goals_gained)):
            for goal in goals:
                nearest = f" (nearest: {goal.nearest})" if word == "lost" and goal.nearest else ""
                print(f"goal {word}: {goal.text}{nearest}")
        for word, goals in (("earlier", found.goals_earlier), ("later", found.goals_later)):
            for goal in goals:
                print(f"goal {word}: {goal.text}, from level {goal.from_level}")
        for row in document["numbers"]:
            print(f"level {row['level']:2} {row['name']}: {row['before']} -> {row['after']}")
        for word in ("new", "gone"):
            for finding in document["findings"][word]:
                print(f"{word}: {finding['message']}")
    return int(bool(document["choices"] or document["numbers"] or any(document["findings"].values())))
