"""`buildmoot sheet`: every number at one level or at all of them."""

import argparse
from collections.abc import Sequence
from typing import Any

from bot.filecommands.printing import note_json, number_text, print_json
from bot.filecommands.reading import Shelf, Stop, read_build
from engine.build.document import Build, build_hash
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.sheet import Sheet, sheet, timeline
from engine.sheet.number import as_json
from engine.sheet.states import find_states


def run(args: argparse.Namespace) -> int:
    """Print the sheet. Exit 0; bad input is a Stop."""
    build, catalog = read_build(args.file, Shelf(args.folio))
    states = known_states(args.states, catalog, "sheet")
    if build.top == 0:
        raise Stop(f"{args.file}:1:1: the build has no levels yet; add a line such as `1 Rogue`")
    if not args.all:
        check_level(args.file, build, args.level)
    if args.pdf or args.png:
        from bot.filecommands.paper import write_paper

        write_paper(args, build, catalog, states)
        if not args.json:
            return 0
    if args.all:
        levels = timeline(build, catalog, states)
        if args.json:
            print_json({"build": build_json(build), "levels": [_level(s) for s in levels]})
        else:
            for each in levels:
                _print_text(build, each)
        return 0
    one = sheet(build, catalog, args.level, states)
    if args.json:
        print_json({"build": build_json(build), **_level(one)})
    else:
        _print_text(build, one)
    return 0


def check_level(file: str, build: Build, level: int) -> None:
    """Raise Stop if the build has no such level."""
    if not 1 <= level <= build.top:
        raise Stop(f"{file}:1:1: there is no level {level} in this build; it has levels 1 to {build.top}")


def known_states(names: Sequence[str], catalog: Catalog, command: str) -> tuple[str, ...]:
    """Return the ids of the states named. Raises: Stop with the nearest names for an unknown one.

    command: the one that is told to have found the name unknown.
    """
    found = find_states(names, catalog)
    if isinstance(found, Refused):
        raise Stop(f"buildmoot {command}: {found.sentence}")
    return found


def build_json(build: Build) -> dict[str, str]:
    """Return what names a build in the outside form."""
    return {"name": build.name, "hash": build_hash(build), "rules": build.rules}


def _level(one: Sheet) -> dict[str, Any]:
    return {
        "level": one.level,
        "numbers": {name: as_json(number) for name, number in one.numbers.items()},
        "notes": [note_json(note) for note in one.notes],
    }


def _print_text(build: Build, one: Sheet) -> None:
    print(f"{build.name}, level {one.level}")
    for name, number in one.numbers.items():
        print(" ", number_text(name, number))
    for note in one.notes:
        print(f"  {note.label}: {note.text} ({note.source})")
