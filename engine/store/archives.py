"""Unpacking a folio that came as a zip: plain files of text inside one folder, with limits on everything."""

import io
import stat
import struct
import zipfile
import zlib
from pathlib import PurePosixPath
from typing import Final

from engine.rules.folio import HEADER, FolioProblem

TEXT_SUFFIXES: Final = frozenset({".yaml", ".yml", ".md", ".txt"})
MAX_ZIP: Final = 2 * 1024 * 1024  # as it comes
MAX_UNPACKED: Final = 4 * 1024 * 1024
MAX_ZIPPED_FILES: Final = 300
_MAX_PATH: Final = 120
# The ways of packing that zips of text have.
_PACKINGS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
# What reading a damaged zip can raise. RuntimeError: encrypted; NotImplementedError: a packing nobody knows.
_BROKEN: Final = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
    OSError,
)
# What file managers put into zips beside one's own files.
_LEFT_OUT: Final = ("__MACOSX/", ".DS_Store", "Thumbs.db", "desktop.ini")


def is_zip(data: bytes) -> bool:
    """Tell whether some bytes are a zip, whatever the file is called."""
    return data[:4] in (b"PK\x03\x04", b"PK\x05\x06")


def unpacked(name: str, data: bytes) -> dict[str, bytes] | FolioProblem:
    """Return the files of a zip by their path inside the folio's folder, or what is wrong with it.

    A folder around all of them is taken off. name: of the zip, for the problem. Nothing is written anywhere.
    """
    try:
        return _unpacked(name, data)
    except _BROKEN as error:
        return FolioProblem(name, 0, f"this zip cannot be unpacked ({type(error).__name__}); zip the folder anew")
    except MemoryError:
        return FolioProblem(name, 0, "this zip cannot be unpacked; zip the folder anew")


def _unpacked(name: str, data: bytes) -> dict[str, bytes] | FolioProblem:
    if len(data) > MAX_ZIP:
        return FolioProblem(name, 0, f"the zip has {_mb(len(data))} MB; a folio may come in {_mb(MAX_ZIP)} MB")
    if not is_zip(data):
        return FolioProblem(name, 0, "this is no zip, whatever its name says; zip the folder of the folio")
    found: dict[str, bytes] = {}
    left = MAX_UNPACKED
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        wanted = [i for i in archive.infolist() if not i.is_dir() and not _left_out(i.filename)]
        if len(wanted) > MAX_ZIPPED_FILES:
            return FolioProblem(name, 0, f"the zip holds {len(wanted)} files; a folio may have {MAX_ZIPPED_FILES}")
        for info in wanted:
            sentence = _bad(info)
            if sentence is not None:
                return FolioProblem(name, 0, sentence)
            if info.filename in found:
                return FolioProblem(name, 0, f"the zip holds `{_shown(info.filename)}` twice")
            # The sizes that a zip states may lie, so no more is unpacked than may still come.
            with archive.open(info) as file:
                text = file.read(left + 1)
            left -= len(text)
            if left < 0:
                return FolioProblem(name, 0, f"the zip unpacks to more than {_mb(MAX_UNPACKED)} MB; a folio is text")
            found[info.filename] = text
    return _without_folder(found)


def _bad(info: zipfile.ZipInfo) -> str | None:
    path = info.filename
    shown = _shown(path)
    parts = PurePosixPath(path).parts
    if len(path) > _MAX_PATH or not path.isprintable():
        return f"the zip holds a file with a name no folio needs: `{shown}`"
    if path.startswith("/") or "\\" in path or ":" in path or ".." in parts:
        return f"`{shown}` leads out of the folder; a folio holds only files of its own folder"
    if stat.S_ISLNK(info.external_attr >> 16):
        return f"`{shown}` is a link; a folio holds only files"
    if info.compress_type not in _PACKINGS:
        return f"`{shown}` is packed in a way that few programs read; zip the folder in the usual one"
    if info.flag_bits & 1:
        return f"`{shown}` is locked with a password; zip the folder without one"
    if PurePosixPath(path).suffix.lower() not in TEXT_SUFFIXES:
        return f"`{shown}` is no part of a folio; it holds .yaml files, and texts as .md or .txt"
    return None


def _left_out(path: str) -> bool:
    return path.startswith(_LEFT_OUT[0]) or PurePosixPath(path).name in _LEFT_OUT[1:]


def _without_folder(found: dict[str, bytes]) -> dict[str, bytes]:
    tops = {path.partition("/")[0] for path in found}
    if HEADER not in found and len(tops) == 1 and all("/" in path for path in found):
        return {path.partition("/")[2]: text for path, text in found.items()}
    return found


def _shown(path: str) -> str:
    plain = "".join(c if c.isprintable() else "?" for c in path)
    return plain if len(plain) <= 60 else f"{plain[:59]}…"


def _mb(size: int) -> str:
    return f"{size / 1024 / 1024:.1f}".removesuffix(".0")
