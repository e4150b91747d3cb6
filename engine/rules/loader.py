"""Reading a folio from the bytes of its files: all errors at once, each with file, line and what was expected."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, get_args

import yaml
from pydantic import BaseModel, ValidationError

from engine.rules.content import FOLDERS, Entry, Release
from engine.rules.folio import KINDS, Folio, FolioHeader, folio_hash, lifted
from engine.rules.grants import GrantBase
from engine.rules.names import nearest

MAX_BYTES: Final = 8 * 1024 * 1024
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class FolioProblem:
    """One thing wrong in a folio's files. line counts from 1; 0 where no line can be named."""

    file: str
    line: int
    sentence: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.sentence}" if self.line else f"{self.file}: {self.sentence}"


def read_folio(files: Mapping[str, bytes]) -> Folio | list[FolioProblem]:
    """Return the folio that the files make up, or every problem found in them.

    files: path inside the folio (`folio.yaml`, `classes/rogue.yaml`...) -> content. Reads nothing else.
    """
    problems: list[FolioProblem] = []
    if sum(map(len, files.values())) > MAX_BYTES:
        return [FolioProblem("folio.yaml", 0, f"a folio may have {MAX_BYTES // 1024 // 1024} MB in all")]
    header: FolioHeader | None = None
    release: Release | None = None
    entries: dict[str, dict[str, Entry]] = {}
    if "folio.yaml" not in files:
        problems.append(FolioProblem("folio.yaml", 0, "the folio has no `folio.yaml` with id, title and version"))
    for path in sorted(files):
        folder, _, rest = path.rpartition("/")
        if not path.endswith((".yaml", ".yml")):
            continue
        text = files[path]
        if path == "folio.yaml":
            header = _one(path, text, FolioHeader, problems)
        elif path == "release.yaml":
            release = _one(path, text, Release, problems)
        elif folder in FOLDERS and rest:
            for entry in _many(path, text, FOLDERS[folder], problems):
                for kind, each in lifted(KINDS[folder], entry):
                    shelf = entries.setdefault(kind, {})
                    if each.id in shelf:
                        problems.append(FolioProblem(path, 0, f"the {kind} `{each.id}` is given twice"))
                    shelf[each.id] = each
        else:
            near = nearest(folder, FOLDERS) or sorted(FOLDERS)
            problems.append(FolioProblem(path, 0, f"`{folder}` is no folder of a folio; nearest: {', '.join(near)}"))
    if problems or header is None:
        return problems
    return Folio(header=header, hash=folio_hash(files), entries=entries, release=release)


def _one(path: str, text: bytes, model: Any, problems: list[FolioProblem]) -> Any:
    data = _yaml(path, text, problems)
    if data is None:
        return None
    return _validated(path, text, data, model, (), problems)


def _many(path: str, text: bytes, model: type[Entry], problems: list[FolioProblem]) -> list[Entry]:
    data = _yaml(path, text, problems)
    if data is None:
        return []
    if isinstance(data, list):
        found = [_validated(path, text, row, model, (i,), problems) for i, row in enumerate(data)]
    else:
        found = [_validated(path, text, data, model, (), problems)]
    return [entry for entry in found if entry is not None]


def _yaml(path: str, text: bytes, problems: list[FolioProblem]) -> Any:
    try:
        data = yaml.load(text, Loader=_LOADER)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark else 0
        problems.append(FolioProblem(path, line, f"not readable as YAML: {getattr(error, 'problem', error)}"))
        return None
    if data is None:
        problems.append(FolioProblem(path, 0, "the file is empty"))
    return data


def _validated(
    path: str, text: bytes, data: Any, model: Any, place: tuple[int | str, ...], problems: list[FolioProblem]
) -> Any:
    try:
        return model.model_validate(data)
    except ValidationError as error:
        for part in error.errors(include_url=False):
            loc, keys = _written(model, part["loc"])
            problems.append(FolioProblem(path, _line(text, (*place, *loc)), _sentence(part, loc, keys)))
        return None


def _written(model: Any, loc: tuple[int | str, ...]) -> tuple[tuple[int | str, ...], list[str]]:
    """Return the place as it is written in the file, and the keys known there.

    A place inside a grant names the grant's kind too, which is no key of the file.
    """
    written: list[int | str] = []
    models: list[Any] = [model]
    for step in loc:
        kinds = [m for m in models if issubclass(m, GrantBase) and m.model_fields["kind"].default == step]
        if kinds and written and isinstance(written[-1], int) and len(models) > 1:
            models = kinds
            continue
        written.append(step)
        if isinstance(step, str) and len(written) < len(loc):
            inner = [m.model_fields[step].annotation for m in models if step in m.model_fields]
            models = [found for annotation in inner for found in _models_in(annotation)] or models
    keys = [field.alias or name for m in models for name, field in m.model_fields.items()]
    return tuple(written), list(dict.fromkeys(keys))


def _models_in(annotation: Any) -> list[Any]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in get_args(annotation) for found in _models_in(part)]


def _sentence(part: Any, loc: tuple[int | str, ...], keys: list[str]) -> str:
    shown = ".".join(str(p) for p in loc) or "entry"
    message = part["msg"].removeprefix("Value error, ")
    if part["type"] == "extra_forbidden":
        near = nearest(str(loc[-1]), keys)
        hint = f"; nearest known keys: {', '.join(near)}" if near else ""
        return f"`{shown}` is no key that is known here{hint}"
    return f"`{shown}`: {message}"


def _line(text: bytes, place: tuple[int | str, ...]) -> int:
    """Return the line of the deepest part of the place that stands in the text."""
    node = yaml.compose(text, Loader=_LOADER)
    line = node.start_mark.line + 1 if node else 0
    for step in place:
        found = None
        if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            found = node.value[step]
            line = found.start_mark.line + 1
        elif isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                if key.value == str(step):
                    found = value
                    line = key.start_mark.line + 1
        if found is not None:
            node = found
    return line
