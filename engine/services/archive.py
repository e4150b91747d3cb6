"""Everything of a server in one archive for its managers, and reading such an archive back.

An archive is a zip file: `archive.json` says what it is, `tables/NAME.json` holds rows as stored, and
`builds/NUMBER/REVISION.json` every revision of every shared build as a build document; its hash stands in the former.
Private drafts and what members typed into forms belong to them alone and are left out.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from engine.build.document import Build
from engine.build.reading import read_build
from engine.problem import Refused
from engine.services import rights
from engine.services.rights import Role
from engine.store.models import Revision
from engine.store.uow import UnitOfWork

FORMAT: Final = "buildmoot-archive"
VERSION: Final = 1
LONGEST: Final = 200_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadArchive:
    """Ask for the archive of a server. manager: whether the platform says that the member manages it."""

    server: int
    member: int
    manager: bool
    at: datetime


@dataclass(frozen=True, slots=True)
class Stored:
    """What an archive is made of. tables: name -> rows. revisions: of all shared builds. left_out: private drafts."""

    server: int
    at: datetime
    tables: Mapping[str, list[dict[str, Any]]]
    revisions: tuple[tuple[int, int, str, str], ...]
    left_out: int


@dataclass(frozen=True, slots=True)
class Archive:
    """An archive that was read back. builds: number -> newest revision's document, by (number, revision, build).

    tables: name -> rows. left_out: private drafts that were not in it.
    """

    server: int
    made: str
    builds: Mapping[int, tuple[int, Build]]
    revisions: int
    tables: Mapping[str, list[dict[str, Any]]] = field(default_factory=dict)
    left_out: int = 0


async def read_archive(cmd: ReadArchive, uow: UnitOfWork) -> Stored | Refused:
    """Return everything of a server that its managers may take along. Refused: "not-allowed", "nothing-stored"."""
    refused = rights.refusal(ReadArchive, {Role.MANAGER} if cmd.manager else set())
    if refused is not None:
        return refused
    async with uow.reading():
        tables, left_out = await uow.archive.rows(cmd.server)
        revisions = await uow.archive.documents(cmd.server)
    if not any(tables.values()):
        return Refused("nothing-stored", "Nothing of this server is stored yet.")
    return Stored(cmd.server, cmd.at, tables, tuple(map(_plain_revision, revisions)), left_out)


def _plain_revision(row: Revision) -> tuple[int, int, str, str]:
    return row.build, row.number, row.hash, row.document


def packed(stored: Stored) -> bytes:
    """Return the archive as the bytes of a zip file; equal contents give equal bytes."""
    target = io.BytesIO()
    about = {
        "format": FORMAT,
        "version": VERSION,
        "server": stored.server,
        "made": stored.at.isoformat(),
        "left_out_drafts": stored.left_out,
        "tables": {name: len(rows) for name, rows in stored.tables.items()},
        "hashes": {f"builds/{build}/{number}.json": hash_ for build, number, hash_, _ in stored.revisions},
    }
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        _write(archive, "archive.json", json.dumps(about, ensure_ascii=False, indent=1, sort_keys=True))
        for name, rows in sorted(stored.tables.items()):
            if name != "revisions":
                text = json.dumps(rows, ensure_ascii=False, indent=1, sort_keys=True, default=_told)
                _write(archive, f"tables/{name}.json", text)
        for build, number, _, document in stored.revisions:
            _write(archive, f"builds/{build}/{number}.json", document)
    return target.getvalue()


def _write(archive: zipfile.ZipFile, name: str, text: str) -> None:
    # A fixed time: the bytes must not depend on when they were packed.
    archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text.encode(), zipfile.ZIP_DEFLATED)


def _told(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    raise TypeError(f"an archive holds no {type(value).__name__}")


def unpacked(data: bytes) -> Archive | Refused:
    """Return what an archive holds, with every document checked against its hash.

    Refused: "no-archive" for another kind of file, "archive-newer", "archive-damaged" naming the part.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if sum(info.file_size for info in archive.infolist()) > LONGEST:
                return Refused("no-archive", "This archive unpacks to more than 200 MB; no server has that much.")
            about = json.loads(archive.read("archive.json"))
            if not isinstance(about, dict) or about.get("format") != FORMAT:
                return Refused("no-archive", "This zip file is no archive of a server.")
            if about.get("version") != VERSION:
                return Refused(
                    "archive-newer", f"This archive has version {about.get('version')}; this program reads {VERSION}."
                )
            builds: dict[int, tuple[int, Build]] = {}
            hashes: Mapping[str, str] = about["hashes"]
            for name, expected in hashes.items():
                document = archive.read(name)
                if hashlib.sha256(document).hexdigest() != expected:
                    return Refused("archive-damaged", f"`{name}` is not what was stored: its hash differs.")
                build = read_build(json.loads(document))
                if isinstance(build, Refused):
                    return Refused("archive-damaged", f"`{name}`: {build.sentence}")
                _, number, revision = name.removesuffix(".json").split("/")
                if int(number) not in builds or builds[int(number)][0] < int(revision):
                    builds[int(number)] = (int(revision), build)
            tables = {
                name: json.loads(archive.read(f"tables/{name}.json")) for name in about["tables"] if name != "revisions"
            }
            return Archive(
                int(about["server"]), str(about["made"]), builds, len(hashes), tables, int(about["left_out_drafts"])
            )
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, AttributeError) as error:
        return Refused("no-archive", f"This file is no archive of a server, or a part of it is missing ({error}).")
