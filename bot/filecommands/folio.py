"""`buildmoot folio`: check a folder, print the JSON Schema of the format, or print a template to fill in."""

import argparse
import sys

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop


def run(args: argparse.Namespace) -> int:
    """Check: print what was found in the folio, exit 2 with every problem. Schema, template: print it."""
    if args.action == "check":
        return _check(args)
    from engine.rules.folio_schema import shipped_schema, template

    if args.action == "schema":
        print_json(shipped_schema())
    else:
        sys.stdout.write(template())
    return 0


def _check(args: argparse.Namespace) -> int:
    if args.folder is None:
        raise Stop("buildmoot folio check: a FOLDER is needed")
    # What stands behind --folio comes first, so that the checked folio may refer to it.
    folio = list(Shelf([*args.folio, args.folder]).extra.values())[-1]
    counts = {kind: len(entries) for kind, entries in folio.entries.items()}
    if args.json:
        print_json(
            {
                "id": folio.id,
                "title": folio.title,
                "version": folio.header.version,
                "hash": folio.hash,
                "entries": counts,
            }
        )
    else:
        listed = ", ".join(f"{n} {kind}" for kind, n in counts.items()) or "no entries"
        print(f"{folio.title} ({folio.id} {folio.header.version}) is in order: {listed}.")
    return 0
