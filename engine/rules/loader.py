"""Reading a folio from the bytes of its files: all errors at once, each with file, line and what was expected.

A folio is a folder of YAML files, or one file: `folio.yaml` may hold the entries too, under the names of the folders
(`feats:`, `spells:`...) as keys.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from pydantic import ValidationError

from engine.rules.catalog import Catalog
from engine.rules.content import FOLDERS, Entry, Release
from engine.rules.faults import as_written, sentence_of
from engine.rules.folio import HEADER, KINDS, Folio, FolioHeader, FolioProblem, folio_hash, lifted
from engine.rules.limits import (
    MAX_ALL_GRANTS,
    MAX_BYTES,
    MAX_COUNTED,
    MAX_ENTRIES,
    MAX_ENTRY,
    MAX_FILES,
    MAX_PROBLEMS,
)
from engine.rules.names import nearest
from engine.rules.references import Fault, grants_in, references, too_much
from engine.rules.yaml_text import Document, Place, YamlFault, read_yaml

# Returns the folios that one extending this release may refer to, the release first; none if it is not at hand.
Beside = Callable[[str | None], Sequence[Folio]]
_YAML: Final = (".yaml", ".yml")
_RELEASE: Final = "release"


def read_folio(files: Mapping[str, bytes], beside: Beside | None = None) -> Folio | list[FolioProblem]:
    """Return the folio that the files make up, or every problem found in them.

    files: path inside the folio (`folio.yaml`, `classes/rogue.yaml`...) -> content; one YAML file alone may have any
    name. beside: tells the folios that this one may refer to; None leaves references unchecked.
    """
    return _Reader(files).read(beside)


@dataclass(slots=True)
class _Reader:
    """One reading. places: kind and id -> file and place of every entry."""

    files: Mapping[str, bytes]
    problems: list[FolioProblem] = field(default_factory=list)
    more: int = 0
    entries: dict[str, dict[str, Entry]] = field(default_factory=dict)
    places: dict[tuple[str, str], tuple[str, Place]] = field(default_factory=dict)
    count: int = 0
    grants: int = 0

    def read(self, beside: Beside | None) -> Folio | list[FolioProblem]:
        """Read everything, then look at what it refers to."""
        if len(self.files) > MAX_FILES:
            return [FolioProblem(HEADER, 0, f"a folio may have {MAX_FILES} files; this one has {len(self.files)}")]
        if sum(map(len, self.files.values())) > MAX_BYTES:
            return [FolioProblem(HEADER, 0, f"a folio may have {MAX_BYTES // 1024 // 1024} MB in all")]
        header_file = self._header_file()
        header = self._header(header_file)
        release: Release | None = None
        for path in sorted(self.files):
            folder, _, rest = path.rpartition("/")
            if path == header_file or not path.endswith(_YAML):
                continue
            if path == f"{_RELEASE}.yaml":
                release = self._validated(path, self._document(path), Release)
            elif folder in FOLDERS and rest:
                document = self._document(path)
                if document is not None:
                    self._many(path, folder, document.data, document.place)
            else:
                self._no_folder(path, folder)
        if header_file is not None and header is not None:
            release = header[1] or release
        if header is None or self.problems:
            return self._told()
        folio = Folio(header[0], self._hash(header_file), self.entries, header[1] or release)
        self._refers(folio, beside, header_file or HEADER, header[2])
        return self._told() if self.problems else folio

    # -- files --------------------------------------------------------------------------------------------------

    def _header_file(self) -> str | None:
        if HEADER in self.files:
            return HEADER
        alone = [path for path in self.files if path.endswith(_YAML)]
        return alone[0] if len(alone) == 1 and "/" not in alone[0] else None

    def _hash(self, header_file: str | None) -> str:
        # A file that is a folio of its own is the same folio under every name.
        return folio_hash({HEADER if path == header_file else path: data for path, data in self.files.items()})

    def _no_folder(self, path: str, folder: str) -> None:
        near = nearest(folder or path, FOLDERS) or sorted(FOLDERS)
        what = f"`{folder}` is no folder of a folio" if folder else f"`{path}` stands in no folder"
        self._wrong(path, 0, f"{what}; nearest: {', '.join(near)}")

    def _document(self, path: str) -> Document | None:
        try:
            document = read_yaml(self.files[path])
        except YamlFault as fault:
            self._wrong(path, fault.line, fault.sentence)
            return None
        for line, sentence in document.faults:
            self._wrong(path, line, sentence)
        if document.data is None:
            self._wrong(path, 0, "the file is empty")
            return None
        return document

    # -- header and entries -------------------------------------------------------------------------------------

    def _header(self, path: str | None) -> tuple[FolioHeader, Release | None, Place] | None:
        if path is None:
            self._wrong(HEADER, 0, "the folio has no `folio.yaml` with id, title and version")
            return None
        document = self._document(path)
        if document is None:
            return None
        data = document.data
        release: Release | None = None
        if isinstance(data, dict):
            inner = {key: data.pop(key) for key in [*FOLDERS, _RELEASE] if key in data}
            for key, value in inner.items():
                place = document.place.inner.get(key, document.place)
                if key == _RELEASE:
                    release = self._validated(path, Document(value, place), Release)
                elif value is not None:
                    self._many(path, key, value, place)
        header = self._validated(path, document, FolioHeader, known=(*FOLDERS, _RELEASE))
        return None if header is None else (header, release, document.place)

    def _many(self, path: str, folder: str, data: Any, place: Place) -> None:
        rows = data if isinstance(data, list) else [data]
        for i, row in enumerate(rows):
            inner = place.inner.get(i, place) if isinstance(data, list) else place
            self.count += 1
            if self.count > MAX_ENTRIES:
                if self.count == MAX_ENTRIES + 1:
                    self._wrong(path, inner.line, f"a folio may have {MAX_ENTRIES:,} entries; split this one into two")
                return
            if self.more >= MAX_COUNTED or self.grants > MAX_ALL_GRANTS:
                return
            if inner.size > MAX_ENTRY:
                self._wrong(path, inner.line, f"this entry has {inner.size:,} values; one may have {MAX_ENTRY:,}")
                continue
            entry = self._validated(path, Document(row, inner), FOLDERS[folder])
            if entry is not None:
                self._shelve(path, KINDS[folder], entry, inner)

    def _shelve(self, path: str, kind: str, entry: Entry, place: Place) -> None:
        inside = {"class": "subclasses", "species": "subspecies"}.get(kind)
        for i, (of, each) in enumerate(lifted(kind, entry)):
            self._count_grants(path, each, place)
            where = place
            if i and inside is not None:
                rows = place.inner.get(inside, place)
                where = rows.inner.get(i - 1, rows)
            shelf = self.entries.setdefault(of, {})
            if each.id in shelf:
                first, at = self.places[(of, each.id)]
                self._wrong(
                    path,
                    where.line_of(("id",)),
                    f"the {of} `{each.id}` is given twice; it stands in {first}, line {at.line}, too",
                )
                continue
            shelf[each.id] = each
            self.places[(of, each.id)] = (path, where)

    def _count_grants(self, path: str, entry: Entry, place: Place) -> None:
        before = self.grants
        self.grants += sum(1 for _ in grants_in(entry))
        if before <= MAX_ALL_GRANTS < self.grants:
            self._wrong(path, place.line, f"a folio may have {MAX_ALL_GRANTS:,} grants in all; split this one into two")

    def _validated(self, path: str, document: Document | None, model: Any, known: Iterable[str] = ()) -> Any:
        if document is None:
            return None
        if not isinstance(document.data, dict):
            what = "the folio" if model is FolioHeader else "an entry"
            self._wrong(path, document.place.line, f"{what} is a block of keys such as `id:` and `name:`, not this")
            return None
        try:
            return model.model_validate(document.data)
        except ValidationError as error:
            for part in error.errors(include_url=False):
                if len(self.problems) >= MAX_PROBLEMS:
                    self.more += 1
                    continue
                loc, keys = as_written(model, part["loc"])
                self._wrong(path, document.place.line_of(loc), sentence_of(part, loc, [*keys, *known]))
            return None

    # -- references ---------------------------------------------------------------------------------------------

    def _refers(self, folio: Folio, beside: Beside | None, header_file: str, header_place: Place) -> None:
        self._faults(too_much(folio), header_file, header_place)
        if beside is None or self.problems:
            return
        others = [other for other in beside(folio.header.extends) if other.id != folio.id]
        if folio.release is None and not (others and others[0].release is not None):
            line = header_place.line_of(("extends",))
            named = folio.header.extends or "nothing"
            self._wrong(header_file, line, f"the folio extends `{named}`, which is no rules release at hand")
            return
        first = [folio, *others] if folio.release is not None else [*others, folio]
        self._faults(references(folio, Catalog(first)), header_file, header_place)

    def _faults(self, faults: Iterable[Fault], header_file: str, header_place: Place) -> None:
        for fault in faults:
            file, place = self.places.get((fault.kind, fault.id), (header_file, header_place))
            self._wrong(file, place.line_of(tuple(_key(step) for step in fault.path)), fault.sentence)

    # -- telling ------------------------------------------------------------------------------------------------

    def _wrong(self, file: str, line: int, sentence: str) -> None:
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(FolioProblem(file, line, sentence))
        else:
            self.more += 1

    def _told(self) -> list[FolioProblem]:
        told = sorted(dict.fromkeys(self.problems), key=lambda p: (p.file, p.line))
        if self.more:
            count = f"more than {MAX_COUNTED}" if self.more >= MAX_COUNTED else f"{self.more}"
            told.append(FolioProblem(HEADER, 0, f"and {count} more problems; mend these first"))
        return told


def _key(step: int | str) -> int | str:
    """Return how a field is written in a file: Python's own words have a line behind them there."""
    return step.rstrip("_") if isinstance(step, str) else step
