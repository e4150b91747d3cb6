"""`buildmoot archive`: read an archive of a server back; list what it holds, or write its builds as outlines."""

import argparse
from pathlib import Path

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Stop
from engine.build.outline import print_outline
from engine.problem import Refused
from engine.services.archive import Archive, unpacked
from engine.services.library import catalog_of


def run(args: argparse.Namespace) -> int:
    """List an archive, or write its builds into a folder. Exit 0; what is no archive is bad input."""
    try:
        data = Path(args.file).read_bytes()
    except OSError as error:
        raise Stop(f"{args.file}:1:1: the file cannot be read ({error.strerror})") from error
    found = unpacked(data)
    if isinstance(found, Refused):
        raise Stop(f"{args.file}:1:1: {found.sentence}")
    if args.to:
        _write(found, Path(args.to))
    listed = {
        "server": found.server,
        "made": found.made,
        "builds": [
            {"number": number, "name": build.name, "revision": revision}
            for number, (revision, build) in sorted(found.builds.items())
        ],
        "revisions": found.revisions,
        "rows": {name: len(rows) for name, rows in sorted(found.tables.items())},
        "left_out_drafts": found.left_out,
    }
    if args.json:
        print_json(listed)
        return 0
    print(
        f"Archive of server {found.server}, made {found.made}: {len(found.builds)} builds, {found.revisions} revisions."
    )
    for number, (revision, build) in sorted(found.builds.items()):
        print(f"  #{number} {build.name}, revision {revision}, level {build.top}")
    print(
        "  " + ", ".join(f"{len(rows)} {name.replace('_', ' ')}" for name, rows in sorted(found.tables.items()) if rows)
    )
    return 0


def _write(found: Archive, folder: Path) -> None:
    """Write every build as `NUMBER.outline`; nothing that is there already is overwritten."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for number, (_, build) in sorted(found.builds.items()):
            catalog = catalog_of(build)
            if isinstance(catalog, Refused):
                raise Stop(f"{folder}: build #{number}: {catalog.sentence}")
            with (folder / f"{number}.outline").open("x", encoding="utf-8") as file:
                file.write(print_outline(build, catalog))
    except FileExistsError as error:
        raise Stop(f"{error.filename}: it exists already and was left alone; name an empty folder") from error
    except OSError as error:
        raise Stop(f"{folder}: the folder cannot be written ({error.strerror})") from error
