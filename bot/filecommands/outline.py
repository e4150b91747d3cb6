"""`buildmoot outline`: the parsed document, or the outline printed back."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, read_build
from engine.build.document import dump
from engine.build.outline import print_outline


def run(args: argparse.Namespace) -> int:
    """Print the document (`--json`) or the outline (`--print`, the default)."""
    build, catalog = read_build(args.file, Shelf(args.folio))
    if args.json and not args.printed:
        print_json(dump(build))
    else:
        print(print_outline(build, catalog), end="")
    return 0
