"""`buildmoot folio`: check a folder, or print the JSON Schema of the format."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop
from engine.rules.base import Content
from engine.rules.content import FOLDERS, Release
from engine.rules.folio import FolioHeader


def run(args: argparse.Namespace) -> int:
    """Check: print what was found in the folio, exit 2 with every problem. Schema: print it."""
    if args.action == "schema":
        models: dict[str, type[Content]] = {"folio.yaml": FolioHeader, "release.yaml": Release, **FOLDERS}
        print_json({name: model.model_json_schema(by_alias=True) for name, model in models.items()})
        return 0
    if args.folder is None:
        raise Stop("buildmoot folio check: a FOLDER is needed")
    (folio,) = Shelf([args.folder]).extra.values()
    counts = {kind: len(entries) for kind, entries in folio.entries.items()}
    if args.json:
        print_json({"id": folio.id, "title": folio.title, "hash": folio.hash, "entries": counts})
    else:
        listed = ", ".join(f"{n} {kind}" for kind, n in counts.items()) or "no entries"
        print(f"{folio.title} ({folio.id} {folio.header.version}) is in order: {listed}.")
    return 0
