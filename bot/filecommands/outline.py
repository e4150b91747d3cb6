"""`buildmoot outline`: the parsed document, the outline printed back, or the schema of the document."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop, read_build
from engine.build.document import dump
from engine.build.outline import print_outline


def run(args: argparse.Namespace) -> int:
    """Print the document (`--json`), the outline (`--print`, the default), or the schema of the document."""
    if args.schema:
        from engine.services.sheets import schema

        print_json(schema())
        return 0
    if args.file is None:
        raise Stop("buildmoot outline: a FILE is needed, or --schema")
    build, catalog = read_build(args.file, Shelf(args.folio))
    if args.json and not args.printed:
        print_json(dump(build))
    else:
        print(print_outline(build, catalog), end="")
    return 0
