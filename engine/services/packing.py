"""The file form of an archive: a zip of plain JSON, packed and unpacked without a database.

`archive.json` says what it is and holds the SHA-256 of every other part; `tables/NAME.json` holds rows as plain data,
times in ISO 8601, bytes in Base64; `builds/NUMBER/REVISION.json` holds the build documents, byte for byte as stored.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from engine.build.document import Build
from engine.build.reading import read_build
from engine.problem import Refused
from engine.rules.folio import Folio
from engine.rules.loader import read_folio
from engine.store.folio_files import files_of

FORMAT: Final = "buildmoot-archive"
VERSION: Final = 1
# Bytes: of the file as it comes, and of what is in it. A server with a thousand builds has about a twentieth.
LONGEST_FILE: Final = 50_000_000
LONGEST: Final = 200_000_000
MOST_PARTS: Final = 200_000
_ABOUT: Final = "archive.json"
_REVISIONS: Final = "revisions"

Row = Mapping[str, Any]
Rows = Mapping[str, Sequence[Row]]


@dataclass(frozen=True, slots=True)
class Stored:
    """What an archive is made of.

    server: whose. at: when it is made. tables: name -> rows as plain data, those of `revisions` with their documents.
    left_out: how many private drafts were left out.
    """

    server: int
    at: datetime
    tables: Rows
    left_out: int

    @property
    def builds(self) -> int:
        """How many builds are in it."""
        return len(self.tables.get("builds", ()))


@dataclass(frozen=True, slots=True)
class Archive:
    """An archive that was read back.

    tables: as in Stored. builds: number -> (number of the newest revision, its document). revisions: of all builds.
    folios: hash -> folio that the server brought. left_out: private drafts that were not in it.
    """

    server: int
    made: str
    tables: Rows
    builds: Mapping[int, tuple[int, Build]]
    revisions: int
    left_out: int
    folios: Mapping[str, Folio] = field(default_factory=dict)

    def folios_of(self, build: Build) -> Mapping[str, Folio]:
        """Return what a build of it was made with beside the rules release, by id; what was not in it is left out."""
        return {use.id: self.folios[use.hash] for use in build.folios if use.hash in self.folios}


def packed(stored: Stored) -> bytes:
    """Return the archive as the bytes of a zip file; equal contents give equal bytes."""
    parts: dict[str, bytes] = {}
    for name, rows in sorted(stored.tables.items()):
        bare = rows
        if name == _REVISIONS:
            bare = [{column: row[column] for column in row if column != "document"} for row in rows]
        parts[f"tables/{name}.json"] = _text(bare)
    for row in stored.tables.get(_REVISIONS, ()):
        parts[_place(row)] = str(row["document"]).encode()
    about = {
        "format": FORMAT,
        "version": VERSION,
        "server": stored.server,
        "made": stored.at.isoformat(),
        "left_out_drafts": stored.left_out,
        "tables": {name: len(rows) for name, rows in stored.tables.items()},
        "hashes": {name: hashlib.sha256(data).hexdigest() for name, data in parts.items()},
    }
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in ((_ABOUT, _text(about)), *parts.items()):
            # A fixed time: the bytes must not depend on when they were packed.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    return target.getvalue()


def _text(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True).encode()


def _place(row: Row) -> str:
    return f"builds/{row['build']}/{row['number']}.json"


def unpacked(data: bytes) -> Archive | Refused:
    """Return what an archive holds, with every part checked against its hash.

    Refused: "no-archive" for another kind of file, "archive-too-large", "archive-newer", "archive-damaged" naming the
    part.
    """
    if len(data) > LONGEST_FILE:
        return Refused(
            "archive-too-large",
            f"This file has {len(data) / 1e6:.0f} MB; an archive may have {LONGEST_FILE / 1e6:.0f} MB.",
        )
    try:
        parts = _parts(data)
        return parts if isinstance(parts, Refused) else _read(parts)
    except (KeyError, ValueError, TypeError, AttributeError, RecursionError) as error:
        what = f"{type(error).__name__}: {error}"[:120]
        return Refused("archive-damaged", f"A part of this archive does not hold what belongs there ({what}).")
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError):
        # RuntimeError: encrypted, or a packing that nobody uses for text.
        return Refused(
            "no-archive",
            "This file is no archive of a server: it is no whole zip file. Expected what /build archive gave.",
        )


def _parts(data: bytes) -> dict[str, bytes] | Refused:
    found: dict[str, bytes] = {}
    left = LONGEST
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        every = archive.infolist()
        if len(every) > MOST_PARTS:
            return Refused("archive-too-large", f"This zip file has {len(every):,} parts; no server has that much.")
        for info in every:
            if info.filename in found:
                return Refused("archive-damaged", f"`{info.filename[:60]}` is in this archive twice.")
            # The sizes that a zip states may lie, so no more is unpacked than may still come.
            with archive.open(info) as file:
                found[info.filename] = file.read(left + 1)
            left -= len(found[info.filename])
            if left < 0:
                return Refused(
                    "archive-too-large",
                    f"This archive unpacks to more than {LONGEST / 1e6:.0f} MB; no server has that much.",
                )
    return found


def _read(parts: Mapping[str, bytes]) -> Archive | Refused:
    about = json.loads(parts[_ABOUT]) if _ABOUT in parts else None
    if not isinstance(about, dict) or about.get("format") != FORMAT:
        return Refused("no-archive", "This zip file is no archive of a server. Expected what /build archive gave.")
    if about.get("version") != VERSION:
        return Refused(
            "archive-newer",
            f"This archive has version {str(about.get('version'))[:20]}; this program reads {VERSION}.",
        )
    hashes: Mapping[str, str] = about["hashes"]
    for name, expected in hashes.items():
        if name not in parts:
            return Refused("archive-damaged", f"`{name[:60]}` is missing from this archive.")
        if hashlib.sha256(parts[name]).hexdigest() != expected:
            return Refused("archive-damaged", f"`{name[:60]}` is not what was stored: its hash differs.")
    if strange := sorted({*parts} - {*hashes, _ABOUT}):
        return Refused("archive-damaged", f"`{strange[0][:60]}` does not belong into this archive.")
    tables: dict[str, list[dict[str, Any]]] = {}
    for name in about["tables"]:
        if f"tables/{name}.json" not in hashes:
            return Refused("archive-damaged", f"`tables/{name[:40]}.json` is missing from this archive.")
        rows = json.loads(parts[f"tables/{name}.json"])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            return Refused("archive-damaged", f"`tables/{name[:40]}.json` is no list of rows.")
        tables[name] = rows
    folios: dict[str, Folio] = {}
    for row in tables.get("folios", ()):
        folio = _folio(row)
        if isinstance(folio, Refused):
            return folio
        folios[folio.hash] = folio
    builds: dict[int, tuple[int, Build]] = {}
    for row in tables.get(_REVISIONS, ()):
        build = _document(row, parts)
        if isinstance(build, Refused):
            return build
        number, revision = int(row["build"]), int(row["number"])
        if number not in builds or builds[number][0] < revision:
            builds[number] = (revision, build)
    for row in tables.get("builds", ()):
        if builds.get(row["number"], (None,))[0] != row["revision"]:
            return Refused(
                "archive-damaged", f"Build #{row['number']} has no revision {row['revision']} in this archive."
            )
    return Archive(
        server=int(about["server"]),
        made=str(about["made"]),
        tables=tables,
        builds=builds,
        revisions=len(tables.get(_REVISIONS, ())),
        left_out=int(about["left_out_drafts"]),
        folios=folios,
    )


def _folio(row: Row) -> Folio | Refused:
    """Return the folio of a row. Its hash must be its own: folios are kept by it for all servers."""
    files = files_of(str(row["name"]), base64.b64decode(row["data"], validate=True))
    folio = read_folio(files) if isinstance(files, dict) else None
    called = f"The folio `{str(row['id'])[:60]}`, version {str(row['version'])[:40]},"
    if not isinstance(folio, Folio):
        return Refused(
            "archive-damaged", f"{called} cannot be read by this version of the program; use the one before."
        )
    if folio.hash != row["hash"]:
        return Refused("archive-damaged", f"{called} is not what was stored: its hash differs.")
    return folio


def _document(row: dict[str, Any], parts: Mapping[str, bytes]) -> Build | Refused:
    """Return the build of a row of revisions and put its document into the row."""
    place = _place(row)
    if place not in parts:
        return Refused("archive-damaged", f"`{place[:60]}` is missing from this archive.")
    if hashlib.sha256(parts[place]).hexdigest() != row["hash"]:
        return Refused("archive-damaged", f"`{place[:60]}` is not the document that was stored: its hash differs.")
    row["document"] = parts[place].decode()
    build = read_build(json.loads(parts[place]))
    return Refused("archive-damaged", f"`{place[:60]}`: {build.sentence}") if isinstance(build, Refused) else build
