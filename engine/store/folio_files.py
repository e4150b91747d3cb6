"""Reading folios from disk (folders, single files, zips), and the cache that spares every start the parsing of ours.

The cache holds pickles of our own validated models in the user's own cache folder, keyed by the hash of the
folio's files, the library versions and the models' source. A cache that cannot be read or written is no error.
"""

import gc
import hashlib
import os
import pickle
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from engine.build.outline.names import index
from engine.rules.catalog import WORD_KINDS, Catalog
from engine.rules.content import Entry
from engine.rules.folio import HEADER, KINDS, Folio, FolioProblem, folio_hash
from engine.rules.limits import MAX_BYTES, MAX_FILES
from engine.rules.names import noted_folds, remember_folds
from engine.store.archives import TEXT_SUFFIXES, is_zip, unpacked

DEFAULT_RELEASE: Final = "srd-5.1"
SHIPPED: Final = Path(str(files("engine.rules"))) / "folios"


class BrokenFolio(Exception):
    """A folio on disk that cannot be used; `problems` says why."""

    def __init__(self, folder: Path, problems: list[FolioProblem]) -> None:
        super().__init__("\n".join(f"{folder.name}/{p}" for p in problems))
        self.folder = folder
        self.problems = problems

    def lines(self) -> list[str]:
        """Return the problems as `FILE:LINE:COL: sentence`; a folio of one file is that file."""
        alone = self.folder.is_file()
        return [
            f"{self.folder if alone else self.folder / p.file}:{max(p.line, 1)}:1: {p.sentence}" for p in self.problems
        ]


def folio_bytes(folder: Path) -> dict[str, bytes]:
    """Return the files of a folio by their path inside it. folder: also one YAML file, or a zip of a folder.

    Raises: FileNotFoundError if there is nothing; BrokenFolio if it is a file that cannot be unpacked, or too large.
    """
    if folder.is_file():
        found = files_of(folder.name, folder.read_bytes())
        if isinstance(found, FolioProblem):
            raise BrokenFolio(folder, [found])
        return found
    if not folder.is_dir():
        raise FileNotFoundError(f"there is no folio folder {folder}")
    paths = [p for p in sorted(folder.rglob("*")) if p.suffix in TEXT_SUFFIXES and p.is_file()]
    # A link may lead anywhere; a folio is what stands in its folder.
    inside = folder.resolve()
    paths = [p for p in paths if p.resolve().is_relative_to(inside)]
    if len(paths) > MAX_FILES or sum(p.stat().st_size for p in paths) > MAX_BYTES:
        said = f"a folio may have {MAX_FILES} files and {MAX_BYTES // 1024 // 1024} MB in all"
        raise BrokenFolio(folder, [FolioProblem(HEADER, 0, said)])
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in paths}


def files_of(name: str, data: bytes) -> dict[str, bytes] | FolioProblem:
    """Return the files of a folio that came as one file, a zip of a folder or YAML, or what is wrong with it.

    name: of the file; one that ends in `.zip` must be a zip.
    """
    return unpacked(name, data) if is_zip(data) or name.lower().endswith(".zip") else {HEADER: data}


def shipped_folios() -> list[str]:
    """Return the ids of the folios that come with the program."""
    return sorted(p.name for p in SHIPPED.iterdir() if (p / "folio.yaml").is_file())


@lru_cache(maxsize=8)
def load_shipped(folio_id: str) -> Folio:
    """Return a shipped folio, from the cache where possible.

    Raises: FileNotFoundError for an unknown id; BrokenFolio if its files do not validate.
    """
    return _load(SHIPPED / folio_id, cached=True)


def load_folder(folder: Path, others: Sequence[Folio] = ()) -> Folio:
    """Return the folio of a folder, single file or zip, read from its source; what it refers to is checked.

    others: folios beside its rules release that it may refer to. Raises: FileNotFoundError, BrokenFolio.
    """
    from engine.rules.loader import read_folio  # not needed where the cache is

    folio = read_folio(folio_bytes(folder), lambda extends: beside(extends, others))
    if not isinstance(folio, Folio):
        raise BrokenFolio(folder, folio)
    return folio


def beside(extends: str | None, others: Sequence[Folio] = ()) -> tuple[Folio, ...]:
    """Return what a folio may refer to: the release it extends (`srd-5.1` if it names none) and the others.

    Returns: nothing but the others if that release is neither shipped nor among them.
    """
    named = extends or DEFAULT_RELEASE
    first = [folio for folio in others if folio.id == named and folio.release is not None]
    if not first and named in shipped_folios():
        first = [load_shipped(named)]
    return (*first, *(folio for folio in others if folio not in first))


def _load(folder: Path, *, cached: bool) -> Folio:
    content = folio_bytes(folder)
    place = _cache_file(folder.name, folio_hash(content)) if cached else None
    if place is not None and (found := _read_cache(place)) is not None:
        return found
    from engine.rules.loader import read_folio  # not needed where the cache is

    folio = read_folio(content)
    if not isinstance(folio, Folio):
        raise BrokenFolio(folder, folio)
    if place is not None:
        _write_cache(place, folio)
    return folio


@lru_cache(maxsize=1)
def _models_hash() -> str:
    """Hash of what shapes the pickles: the models' modules and the versions of Python and pydantic."""
    import pydantic

    digest = hashlib.sha256(f"{sys.version_info[:3]} {pydantic.VERSION}".encode())
    root = SHIPPED.parent
    for path in sorted([*root.glob("*.py"), *root.glob("grants/*.py"), *root.glob("content/*.py")]):
        stat = path.stat()
        digest.update(f"{path.name} {stat.st_size} {stat.st_mtime_ns}".encode())
    return digest.hexdigest()


def _cache_file(name: str, content_hash: str) -> Path | None:
    base = os.environ.get("BUILDMOOT_CACHE") or os.environ.get("XDG_CACHE_HOME")
    try:
        root = Path(base) if base else Path.home() / ".cache"
    except RuntimeError:  # no home folder: run without a cache
        return None
    return root / "buildmoot" / f"{name}-{content_hash[:16]}-{_models_hash()[:16]}.pickle"


class _Kept(Mapping[str, Mapping[str, Entry]]):
    """The entries of a cached folio: each kind is a pickle of its own, opened when it is first looked at."""

    def __init__(self, pickles: dict[str, bytes]) -> None:
        self._pickles = pickles
        self._open: dict[str, Mapping[str, Entry]] = {}

    def __getitem__(self, kind: str) -> Mapping[str, Entry]:
        if kind not in self._open:
            self._open[kind] = _unpickled(self._pickles[kind])
        return self._open[kind]

    def __iter__(self) -> Iterator[str]:
        return iter(self._pickles)

    def __len__(self) -> int:
        return len(self._pickles)


def _unpickled(data: bytes) -> Any:
    collecting = gc.isenabled()
    gc.disable()  # tens of thousands of small objects that all stay: collecting in between only costs time
    try:
        return pickle.loads(data)
    finally:
        if collecting:
            gc.enable()


def _read_cache(place: Path) -> Folio | None:
    try:
        if hasattr(os, "getuid") and place.stat().st_uid != os.getuid():
            return None  # somebody else's file is never unpickled
        header, content_hash, release, pickles, folds = _unpickled(place.read_bytes())
    except Exception:  # a damaged or outdated cache of any kind is the same as none
        return None
    remember_folds(folds)
    return Folio(header=header, hash=content_hash, release=release, entries=_Kept(pickles))


def _folds(folio: Folio) -> dict[str, str]:
    """Return the folded forms of every name that looking through the folio asks for."""
    if folio.release is None:
        return {}
    with noted_folds() as noted:
        catalog = Catalog([folio])
        for kind in (*KINDS.values(), *WORD_KINDS, "tool", *(f"option:{k}" for k in catalog.keywords())):
            index(catalog, kind)
            for named in catalog.every(kind):
                catalog.find(kind, named.name)
    return noted


def _pickled(value: Any) -> bytes:
    return pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)


def _write_cache(place: Path, folio: Folio) -> None:
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=place.parent, delete=False) as file:
            kinds = {kind: _pickled(dict(entries)) for kind, entries in folio.entries.items()}
            file.write(_pickled((folio.header, folio.hash, folio.release, kinds, _folds(folio))))
        Path(file.name).replace(place)
    except OSError:
        return
