"""Reading one YAML file that nobody vouches for: plain data only, limits on everything, and the line of every value.

The text is taken event by event and put together here, without recursion. Tags, merge keys and keys given twice are
refused; a value that an alias repeats counts again each time. Plain words mean what they look like: only `true`,
`false`, `null`, whole and decimal numbers are no texts.
"""

import re
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from engine.rules.limits import MAX_ALIASES, MAX_DEPTH, MAX_DIGITS, MAX_NODES, MAX_SCALAR

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INT: Final = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_DECIMAL: Final = re.compile(r"[-+]?(?:0|[1-9][0-9]*)\.[0-9]+")
_WORDS: Final[dict[str, bool | None]] = {
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **dict.fromkeys(("null", "Null", "NULL", "~", "")),
}


class YamlFault(Exception):
    """A text that cannot be read: line from 1 (0 if none can be named) and one sentence."""

    def __init__(self, line: int, sentence: str) -> None:
        super().__init__(sentence)
        self.line = line
        self.sentence = sentence


@dataclass(slots=True)
class Place:
    """Where a value stands: its line, and the places of what is in it, by key or number. size: values in all."""

    line: int
    inner: dict[str | int, "Place"] = field(default_factory=dict)
    size: int = 1

    def line_of(self, path: tuple[int | str, ...]) -> int:
        """Return the line of the deepest part of a path that stands in the text."""
        place = self
        for step in path:
            found = place.inner.get(step) or place.inner.get(str(step))
            if found is None:
                break
            place = found
        return place.line


@dataclass(frozen=True, slots=True)
class Document:
    """One file: its plain data, where each part stands, and (line, sentence) of what is wrong but could be read."""

    data: Any
    place: Place
    faults: tuple[tuple[int, str], ...] = ()


@dataclass(slots=True)
class _Open:
    """A list or block that is being read. key: the key whose value comes next; key_line: its line."""

    value: Any
    place: Place
    anchor: str | None
    key: str | int | None = None
    key_line: int = 0
    keyed: bool = False


def read_yaml(text: bytes) -> Document:
    """Return the data of a file. Raises: YamlFault where it cannot be read or goes beyond a limit."""
    try:
        decoded = text.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = text.count(b"\n", 0, error.start) + 1
        raise YamlFault(line, "this is no UTF-8 text; save the file as plain text (UTF-8)") from error
    builder = _Builder()
    try:
        for event in yaml.parse(decoded, Loader=_LOADER):
            builder.take(event)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark else 0
        if isinstance(error, yaml.reader.ReaderError):
            line = decoded.count("\n", 0, error.position if isinstance(error.position, int) else 0) + 1
            raise YamlFault(line, f"not readable as YAML: {error.reason}") from error
        raise YamlFault(line, f"not readable as YAML: {getattr(error, 'problem', None) or error}") from error
    except RecursionError as error:  # the slower reader goes into itself for each level
        raise YamlFault(0, _too_deep()) from error
    return builder.document()


def _too_deep() -> str:
    return f"blocks stand inside blocks more than {MAX_DEPTH} deep; a folio needs no more than {MAX_DEPTH}"


class _Builder:
    """Puts events together to data."""

    def __init__(self) -> None:
        self.stack: list[_Open] = []
        self.anchors: dict[str, tuple[Any, Place] | None] = {}
        self.faults: list[tuple[int, str]] = []
        self.root: tuple[Any, Place] | None = None
        self.nodes = 0
        self.aliases = 0
        self.documents = 0

    def document(self) -> Document:
        """Return the whole; the data of an empty file are None."""
        data, place = self.root if self.root is not None else (None, Place(1))
        return Document(data, place, tuple(self.faults))

    def take(self, event: Any) -> None:
        """Take the next event. Raises: YamlFault."""
        line = event.start_mark.line + 1
        match event:
            case yaml.ScalarEvent():
                self._no_tag(event, line)
                value = self._scalar(event, line)
                self._anchor(event.anchor, value, Place(line))
                self._put(value, Place(line), line)
            case yaml.MappingStartEvent() | yaml.SequenceStartEvent():
                self._no_tag(event, line)
                if len(self.stack) >= MAX_DEPTH:
                    raise YamlFault(line, _too_deep())
                if self._awaits_key():
                    raise YamlFault(line, "a key is a plain word here, not a list or a block")
                if event.anchor is not None:
                    self.anchors[event.anchor] = None  # not finished: an alias to it inside itself is refused
                empty: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
                self.stack.append(_Open(empty, Place(line), event.anchor))
            case yaml.MappingEndEvent() | yaml.SequenceEndEvent():
                done = self.stack.pop()
                done.place.size = 1 + sum(place.size for place in done.place.inner.values())
                self._anchor(done.anchor, done.value, done.place)
                self._put(done.value, done.place, done.place.line)
            case yaml.AliasEvent():
                self._alias(str(event.anchor), line)
            case yaml.DocumentStartEvent():
                self.documents += 1
                if self.documents > 1:
                    raise YamlFault(line, "a second document begins here (`---`); a file holds one")
            case _:
                pass

    def _no_tag(self, event: Any, line: int) -> None:
        if event.tag is not None:
            raise YamlFault(
                line, f"`{event.tag[:40]}` is a YAML tag (`!...`), which a folio does not use; take it away"
            )

    def _anchor(self, anchor: str | None, value: Any, place: Place) -> None:
        if anchor is not None:
            self.anchors[anchor] = (value, place)

    def _alias(self, anchor: str, line: int) -> None:
        self.aliases += 1
        if self.aliases > MAX_ALIASES:
            raise YamlFault(line, f"more than {MAX_ALIASES} aliases (`*name`); write the values out")
        if anchor not in self.anchors:
            raise YamlFault(line, f"`*{anchor}` repeats a value that was not given before as `&{anchor}`")
        found = self.anchors[anchor]
        if found is None:
            raise YamlFault(line, f"`*{anchor}` stands inside the very value it repeats")
        value, place = found
        self._count(place.size, line)
        self._put(value, place, line)

    def _count(self, nodes: int, line: int) -> None:
        self.nodes += nodes
        if self.nodes > MAX_NODES:
            raise YamlFault(line, f"the file has more than {MAX_NODES:,} values; split the folio into several files")

    def _awaits_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1].value, dict) and not self.stack[-1].keyed

    def _put(self, value: Any, place: Place, line: int) -> None:
        self._count(1, line)
        if not self.stack:
            self.root = (value, place)
            return
        top = self.stack[-1]
        if isinstance(top.value, list):
            top.place.inner[len(top.value)] = place
            top.value.append(value)
            return
        if not top.keyed:
            self._key(top, value, line)
            return
        key = top.key
        top.keyed = False
        if key in top.value:
            self.faults.append((top.key_line, f"the key `{key}` stands here twice; keep one"))
            return
        top.value[key] = value
        # The line of a key says more than that of its value; what is in the value keeps its own lines.
        top.place.inner[str(key)] = Place(top.key_line, place.inner, place.size)

    def _key(self, top: _Open, value: Any, line: int) -> None:
        if value == "<<":
            raise YamlFault(line, "`<<` merges blocks, which a folio does not use; write the keys out")
        if not isinstance(value, str | int) or isinstance(value, bool):
            # `on:`, `null:` and the like are keys that nobody means.
            value = str(value).lower()
        top.key, top.key_line, top.keyed = value, line, True

    def _scalar(self, event: Any, line: int) -> Any:
        text: str = event.value
        if len(text) > MAX_SCALAR:
            raise YamlFault(line, f"a text of {len(text):,} characters; one value may have {MAX_SCALAR:,}")
        if not event.implicit[0]:
            return text
        if text in _WORDS:
            return _WORDS[text]
        if _INT.fullmatch(text):
            if len(text.lstrip("+-")) > MAX_DIGITS:
                raise YamlFault(line, f"the number {text[:20]} is too large; numbers have at most {MAX_DIGITS} digits")
            return int(text)
        if _DECIMAL.fullmatch(text) and len(text) <= 2 * MAX_DIGITS:
            return float(text)
        return text
