"""`buildmoot archive`: read an archive of a server, put it into a database, or make one from a database."""

import argparse
import asyncio
import base64
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import quote

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Stop
from engine.problem import Refused
from engine.services.packing import LONGEST_FILE, Archive, packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from engine.services.archive import Loaded
    from engine.store.uow import UnitOfWork

C = TypeVar("C")
R = TypeVar("R")
_LARGEST_ID = 2**63 - 1


def run(args: argparse.Namespace) -> int:
    """List an archive, write its builds into a folder, load it, or make one. Exit 0; bad input is a Stop."""
    if args.server is not None and not args.load:
        raise Stop("buildmoot archive: --server says where --load puts the archive; give both")
    for id_ in (args.server, args.save):
        if id_ is not None and not 1 <= id_ <= _LARGEST_ID:
            raise Stop(f"buildmoot archive: {id_} is no id of a server; expected the number that the platform gives it")
    if args.save is not None:
        return _save(args)
    found = _read(args.file)
    if args.load:
        return _load(args, found)
    if args.to:
        _write(found, Path(args.to))
    if args.json:
        print_json(_listed(found))
        return 0
    print(
        f"Archive of server {found.server}, made {found.made}: {len(found.builds)} builds, {found.revisions} revisions."
    )
    for number, (revision, build) in sorted(found.builds.items()):
        print(f"  #{number} {build.name}, revision {revision}, level {build.top}")
    print("  " + _counts({name: len(rows) for name, rows in found.tables.items()}))
    if found.left_out:
        print(f"  left out: {found.left_out} private {'draft' if found.left_out == 1 else 'drafts'}")
    return 0


def _read(file: str) -> Archive:
    try:
        with Path(file).open("rb") as source:
            data = source.read(LONGEST_FILE + 1)
    except OSError as error:
        raise Stop(f"{file}:1:1: the file cannot be read ({error.strerror}); expected an archive as a zip") from error
    found = unpacked(data)
    if isinstance(found, Refused):
        raise Stop(f"{file}:1:1: {found.sentence}")
    return found


def _listed(found: Archive) -> dict[str, Any]:
    return {
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


def _counts(rows: dict[str, int]) -> str:
    return ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in sorted(rows.items()) if count)


def _write(found: Archive, folder: Path) -> None:
    """Write every build as `NUMBER.outline` and every folio; nothing that is there already is overwritten."""
    from engine.build.outline import print_outline
    from engine.services.library import catalog_of
    from engine.store.archives import is_zip

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for number, (_, build) in sorted(found.builds.items()):
            catalog = catalog_of(build, found.folios_of(build))
            if isinstance(catalog, Refused):
                raise Stop(f"{folder}: build #{number}: {catalog.sentence}")
            with (folder / f"{number}.outline").open("x", encoding="utf-8") as file:
                file.write(print_outline(build, catalog))
        for row in found.tables.get("folios", ()):
            # Named by what it is: the file's own name is whatever somebody called it.
            data = base64.b64decode(row["data"])
            name = f"{row['id']}-{row['version']}{'.zip' if is_zip(data) else '.yaml'}"
            with (folder / quote(name, safe=" ")).open("xb") as target:
                target.write(data)
    except FileExistsError as error:
        raise Stop(f"{error.filename}: it exists already and was left alone; name an empty folder") from error
    except OSError as error:
        raise Stop(f"{folder}: the folder cannot be written ({error.strerror})") from error


def _load(args: argparse.Namespace, found: Archive) -> int:
    """Put an archive into the database that BUILDMOOT_DATABASE_URL names."""
    from engine.services.archive import LoadArchive, load_archive

    loaded: Loaded = _called(args.file, load_archive, LoadArchive.of(found, args.server))
    if args.json:
        print_json({"server": loaded.server, "rows": dict(sorted(loaded.rows.items()))})
        return 0
    print(f"Loaded into server {loaded.server}: {_counts(loaded.rows)}.")
    if not loaded.same:
        print("Channels, roles and messages of the server that it came from were left out; set them anew.")
    return 0


def _save(args: argparse.Namespace) -> int:
    """Make the archive of a server from the database that BUILDMOOT_DATABASE_URL names."""
    from bot.settings import Settings
    from engine.services.archive import ReadArchive, read_archive

    at = Settings().clock()
    # Whoever has the database manages everything that is in it.
    stored = _called(args.file, read_archive, ReadArchive(server=args.save, member=0, manager=True, at=at))
    data = packed(stored)
    try:
        with Path(args.file).open("xb") as file:
            file.write(data)
    except FileExistsError as error:
        raise Stop(f"{args.file}:1:1: the file exists already and was left alone; name a new one") from error
    except OSError as error:
        raise Stop(f"{args.file}:1:1: the file cannot be written ({error.strerror})") from error
    rows = {name: len(rows) for name, rows in stored.tables.items()}
    if args.json:
        print_json({"server": stored.server, "rows": dict(sorted(rows.items())), "left_out_drafts": stored.left_out})
    else:
        print(f"{args.file}: archive of server {stored.server}: {_counts(rows)}.")
    return 0


def _called(file: str, service: "Callable[[C, UnitOfWork], Awaitable[R | Refused]]", command: C) -> R:
    """Return what a service answers on the database of the settings. Raises: Stop for a refusal, or no database."""
    from bot.settings import Settings
    from engine.store.database import Database
    from engine.store.lock import DatabaseInUse

    async def call() -> R | Refused:
        async with await Database.open(Settings().database_url) as database:
            return await database.call(service, command)

    try:
        result = asyncio.run(call())
    except (DatabaseInUse, ValueError) as error:
        raise Stop(f"buildmoot archive: {error}") from error
    if isinstance(result, Refused):
        raise Stop(f"{file}:1:1: {result.sentence}")
    return result
