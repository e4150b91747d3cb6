"""Reading builds and folios for file commands; everything wrong becomes one `Stop` with its lines."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from engine.problem import Refused
from engine.store.folio_files import BrokenFolio, load_folder, load_shipped, shipped_folios

if TYPE_CHECKING:
    from engine.build.document import Build
    from engine.rules.catalog import Catalog
    from engine.rules.folio import Folio

MAX_BYTES = 2_000_000


class Stop(Exception):
    """Bad input: lines for standard error, each `FILE:LINE:COL: sentence` where a place is known."""

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


class Shelf:
    """The folios at hand: shipped rules releases, and folders named with `--folio`."""

    def __init__(self, folders: Sequence[str] = ()) -> None:
        """folders: paths given by the user; each may refer to those before it. Raises: Stop if one cannot be read."""
        self.extra: dict[str, Folio] = {}
        for name in folders:
            try:
                folio = load_folder(Path(name), tuple(self.extra.values()))
            except OSError as error:
                raise Stop(
                    f"{name}:1:1: there is no folio here that can be read; expected a folder with a folio.yaml,"
                    " one YAML file, or a zip"
                ) from error
            except BrokenFolio as error:
                raise Stop(*error.lines()) from error
            if folio.id in self.extra:
                raise Stop(f"{name}:1:1: the folio {folio.id} is given twice; leave one of the two out")
            self.extra[folio.id] = folio
        self._made: dict[tuple[str, tuple[str, ...]], Catalog] = {}

    def catalog(self, rules: str = "srd-5.1", folios: Sequence[str] = ()) -> "Catalog | Refused":
        """Return the catalogue of a rules release and the folios a build names.

        Folders given by the user always take part, so that a build can name their content. Refused: "no-such-rules",
        "no-such-folio", naming those at hand.
        """
        from engine.rules.catalog import Catalog

        wanted = tuple(dict.fromkeys([*map(_folded, folios), *self.extra]))
        key = (_folded(rules), wanted)
        if key not in self._made:
            release = self.folio(key[0])
            if release is None or release.release is None:
                return Refused("no-such-rules", f"the rules “{rules}” are not at hand; at hand: {self._listed()}")
            others = []
            for id_ in wanted:
                folio = self.folio(id_)
                if folio is None:
                    return Refused(
                        "no-such-folio",
                        f"the folio “{id_}” is not at hand; at hand: {self._listed()}; name its folder with --folio",
                    )
                if folio is not release:
                    others.append(folio)
            self._made[key] = Catalog([release, *others])
        return self._made[key]

    def folio(self, id_: str) -> "Folio | None":
        """Return a folio by id, shipped or given."""
        if id_ in self.extra:
            return self.extra[id_]
        return load_shipped(id_) if id_ in shipped_folios() else None

    def _listed(self) -> str:
        return ", ".join([*shipped_folios(), *self.extra])


def _folded(name: str) -> str:
    """Return the id of a folio named by title or id: `SRD 5.1` is `srd-5.1`."""
    return "-".join(name.casefold().split())


def read_text(file: str) -> str:
    """Return the text of a file, `-` for standard input. Raises: Stop if it cannot be read as text."""
    try:
        data = sys.stdin.buffer.read(MAX_BYTES + 1) if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise Stop(
            f"{file}:1:1: the file cannot be read ({error.strerror}); expected a text file or - for input"
        ) from error
    if len(data) > MAX_BYTES:
        raise Stop(f"{file}:1:1: the file has more than {MAX_BYTES // 1_000_000} MB; a build is a short text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise Stop(f"{file}:{line}:1: this is no UTF-8 text; save the build as plain text and try again") from error


def read_build(file: str, shelf: Shelf) -> "tuple[Build, Catalog]":
    """Return the build of an outline file and the catalogue it is written in. Raises: Stop with every error."""
    from engine.build.document import Build
    from engine.build.outline import parse_outline

    parsed = parse_outline(read_text(file), shelf.catalog)
    if not isinstance(parsed, Build):
        raise Stop(*(f"{file}:{e.line}:{e.column}: {e.sentence}" for e in parsed))
    catalog = shelf.catalog(parsed.rules, [f.id for f in parsed.folios])
    if isinstance(catalog, Refused):  # the parser has refused unknown releases and folios already
        raise Stop(f"{file}:1:1: {catalog.sentence}")
    return parsed, catalog
