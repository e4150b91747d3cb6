"""Numbers without a mark that look like one of the build's, next to what they are called: `+7 to Stealth`, `DC 15`.

A guess by words, so it is only ever proposed. Which level is meant: what the sentence says, else the headings above,
else the build's last level.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, Final

from engine.build.document import Build
from engine.publish.words import ORDINALS, content
from engine.publish.writeup.marks import Prose
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITY_NAMES
from engine.sheet import Sheet

_GAP: Final = r"[\s*_~]{0,4}"
_SIGNED: Final = r"[+\-−–]\s?\d{1,3}(?![\d.]*d?\d)"
_COUNT: Final = r"(?<![\d.,+\-−–d/])\d{1,4}(?:\.\d)?(?!\d|st\b|nd\b|rd\b|th\b|d\d|\s?%)"
_DICE: Final = r"\d{0,2}d\d{1,2}(?:\s?[+\-−–]\s?\d{1,2})?"
_ROUGHLY: Final = r"(?:(?:about|around|roughly|almost|nearly|over|only|just|now|some|a|an|the)\s+)?"
_BEFORE: Final = (
    r"(?:feet|foot|ft\.?|points?)?" + _GAP + r"-?(?:bonus\s+)?(?:(?:to|on|in|at|for|with|of)\s+)?"
    r"(?:(?:the|its|her|his|their|your|all|a|an|maximum)\s+)?"
)
_AFTER: Final = (
    r"(?:\s*\b(?:checks?|saves?|saving\s+throws?|modifier|bonus|score|total|maximum|attacks?)\b)?"
    + _GAP
    + r"(?:\s*(?:is|are|of|at|reaches|becomes|stays|rises\s+to|to|:|=|\(|,|–|—|→|->)\s*)?"
    + _GAP
    + _ROUGHLY
)
_SENTENCE: Final = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")
_LEVEL: Final = re.compile(r"\b(?:level|lvl|lv)\.?\s*(\d{1,2})\b", re.I)
_LONGEST: Final = 60
_WORD: Final = re.compile(r"(?<![\w/.])\w+")


@dataclass(frozen=True, slots=True)
class Unmarked:
    """A number that bears no mark. text: as written, with what it is called. proposal: the number as a mark."""

    line: int
    text: str
    proposal: str

    def as_json(self) -> dict[str, Any]:
        """Return the outside form."""
        return {"line": self.line, "text": self.text, "proposal": self.proposal}


@dataclass(frozen=True, slots=True)
class _Phrase:
    """What some numbers are called. names: numbers it may mean. kind: how such a number is written."""

    words: str
    names: tuple[str, ...]
    kind: str


@dataclass(frozen=True, slots=True)
class _Hit:
    start: int
    end: int
    number: str
    number_start: int
    phrase: _Phrase


@lru_cache(maxsize=1024)
def _pattern(words: str) -> re.Pattern[str]:
    """Return what finds words in a text, however they are spaced."""
    return re.compile(re.escape(words).replace(r"\ ", r"\s+") + r"(?!\w)", re.I)


class _Vocabulary:
    """All that the numbers of a build are called."""

    def __init__(self, catalog: Catalog, sheets: Sequence[Sheet]) -> None:
        self._catalog = catalog
        self._names = dict.fromkeys(name for sheet in sheets for name in sheet.numbers)
        self.phrases: dict[str, list[_Phrase]] = {}
        for phrase in self._made():
            self.phrases.setdefault(" ".join(phrase.words.casefold().split()), []).append(phrase)

    def found_in(self, text: str) -> Iterator[tuple[int, int, list[_Phrase]]]:
        """Yield (start, end, what it may mean) of every phrase in a text, the longest at each place."""
        end = 0
        for word in _WORD.finditer(text):
            if word.start() < end:
                continue
            for words in self._by_first.get(word[0].casefold(), ()):
                if match := _pattern(words).match(text, word.start()):
                    end = match.end()
                    yield match.start(), end, self.phrases[words]
                    break

    @cached_property
    def _by_first(self) -> Mapping[str, list[str]]:
        """First word -> the phrases that begin with it, the longest first."""
        index: dict[str, list[str]] = {}
        for words in sorted(self.phrases, key=len, reverse=True):
            first = _WORD.search(words)
            if first is not None:
                index.setdefault(first[0], []).append(words)
        return index

    def _made(self) -> Iterator[_Phrase]:
        casting: dict[str, list[str]] = {}
        for name in self._names:
            head, _, rest = name.partition(".")
            parts = rest.split(".")
            match head:
                case "skill":
                    skill = content(self._catalog, ("skill",), parts[0])
                    if len(parts) == 1:
                        yield _Phrase(skill, (name,), "signed")
                    elif parts[1] == "passive":
                        yield _Phrase(f"passive {skill}", (name,), "count")
                case "save":
                    for word in (rest, ABILITY_NAMES[rest]):  # type: ignore[index]
                        for save in ("save", "saves", "saving throw", "saving throws"):
                            yield _Phrase(f"{word} {save}", (name,), "signed")
                case "ability":
                    full = ABILITY_NAMES[parts[0]]  # type: ignore[index]
                    if parts[1] == "modifier":
                        yield _Phrase(f"{full} modifier", (name,), "signed")
                    else:
                        yield from (_Phrase(word, (name,), "count") for word in (parts[0], full, f"{full} score"))
                case "speed":
                    speeds = {"walk": ("speed", "walking speed"), "fly": ("fly speed", "flying speed")}
                    yield from (
                        _Phrase(w, (name,), "count") for w in speeds.get(rest, (f"{rest} speed", f"{rest}ing speed"))
                    )
                case "senses":
                    yield _Phrase(rest, (name,), "count")
                case "tool":
                    yield _Phrase(content(self._catalog, ("tool", "item"), rest), (name,), "signed")
                case "slots":
                    order = ORDINALS[int(rest) - 1]
                    for words in (f"{order}-level", f"{order} level", f"level {rest}"):
                        yield from (
                            _Phrase(f"{words} {slots}", (name,), "before") for slots in ("slots", "spell slots")
                        )
                case "casting":
                    casting.setdefault(parts[-1], []).append(name)
                case "attack" if parts[-1] in ("to_hit", "damage") and len(parts) == 2:
                    weapon = content(self._catalog, ("item", "spell"), parts[0])
                    yield _Phrase(weapon, (name,), "signed" if parts[1] == "to_hit" else "dice")
                case "pool" if parts[-1] == "uses":
                    yield _Phrase(f"uses of {content(self._catalog, ('feature',), parts[0])}", (name,), "before")
        attacks = tuple(n for n in self._names if n.startswith("attack.") and n.endswith(".to_hit"))
        fixed: tuple[tuple[tuple[str, ...], tuple[str, ...], str], ...] = (
            (("hit points", "hit point maximum", "hp"), ("hp.max",), "count"),
            (("armor class", "armour class", "ac"), ("ac",), "count"),
            (("initiative",), ("initiative",), "signed"),
            (("proficiency bonus",), ("proficiency_bonus",), "signed"),
            (("spell save dc", "save dc", "dc"), tuple(casting.get("save_dc", ())), "after"),
            (("spell attack", "spell attacks", "spell attack rolls"), tuple(casting.get("attack", ())), "signed"),
            (("to hit",), attacks, "signed"),
        )  # fmt: skip
        for spellings, names, kind in fixed:
            if names:
                yield from (_Phrase(word, names, kind) for word in spellings)


def unmarked(prose: Sequence[Prose], build: Build, catalog: Catalog, sheets: Sequence[Sheet]) -> list[Unmarked]:
    """Return the numbers without a mark, in the order of the text, each once."""
    if not sheets:
        return []
    vocabulary = _Vocabulary(catalog, sheets)
    found = []
    for block in prose:
        if not any(c.isdigit() for c in block.text):
            continue
        for hit in _hits(block, vocabulary):
            sentence, place = _sentence(block.text, hit.start)
            level = _level(sentence, hit.start - place, hit.end - place, block.level, len(sheets))
            name = _chosen(hit, sentence, level, catalog, sheets)
            if name is not None:
                line = block.line_at(hit.number_start)
                text = " ".join(block.shown[hit.start : hit.end].split())
                number = " ".join(hit.number.split())
                found.append(Unmarked(line, text, f"[{number}](num:{level}/{name})"))
    return found


def _hits(block: Prose, vocabulary: _Vocabulary) -> list[_Hit]:
    text = block.text
    used: set[int] = set()
    hits: list[_Hit] = []
    for start, end, phrases in vocabulary.found_in(text):
        for phrase in phrases:
            hit = _beside(text, start, end, phrase)
            if hit is not None and hit.number_start not in used:
                used.add(hit.number_start)
                hits.append(hit)
    return sorted(hits, key=lambda hit: hit.number_start)


_PATTERNS: Final[Mapping[str, str]] = {
    "signed": _SIGNED,
    "count": _COUNT,
    "dice": _DICE,
    "before": _COUNT,
    "after": _COUNT,
}
_LEFT: Final = {
    kind: re.compile(rf"(?P<number>{pattern}){_GAP}{_BEFORE}$", re.I) for kind, pattern in _PATTERNS.items()
}
_RIGHT: Final = {kind: re.compile(rf"{_AFTER}(?P<number>{pattern})", re.I) for kind, pattern in _PATTERNS.items()}
# An attack's damage may stand behind its bonus: `Rapier +6, 1d8+3`.
_RIGHT_DICE: Final = re.compile(rf"[^.;\d]{{0,12}}(?:[+\-−–]\s?\d{{1,2}}\b[^.;\d]{{0,20}})?(?P<number>{_DICE})", re.I)


def _beside(text: str, start: int, end: int, phrase: _Phrase) -> _Hit | None:
    if phrase.kind not in ("after", "dice"):
        left = _LEFT[phrase.kind].search(text[max(0, start - _LONGEST) : start])
        if left is not None:
            at = max(0, start - _LONGEST) + left.start("number")
            return _Hit(at, end, left["number"], at, phrase)
    if phrase.kind == "before":
        return None
    pattern = _RIGHT_DICE if phrase.kind == "dice" else _RIGHT[phrase.kind]
    right = pattern.match(text[end : end + _LONGEST])
    if right is None:
        return None
    return _Hit(start, end + right.end("number"), right["number"], end + right.start("number"), phrase)


def _sentence(text: str, place: int) -> tuple[str, int]:
    start = 0
    for stop in _SENTENCE.finditer(text):
        if stop.end() > place:
            return text[start : stop.start()], start
        start = stop.end()
    return text[start:], start


def _level(sentence: str, start: int, end: int, heading: int | None, top: int) -> int:
    said = [(abs(m.start() - start), int(m[1])) for m in _LEVEL.finditer(sentence) if not start <= m.start() < end]
    level = min(said)[1] if said else heading if heading is not None else top
    return level if 1 <= level <= top else top


def _chosen(hit: _Hit, sentence: str, level: int, catalog: Catalog, sheets: Sequence[Sheet]) -> str | None:
    """Return the number that is meant: one of those the phrase may mean, if the build has it at that level."""
    numbers = sheets[level - 1].numbers
    there = [name for name in hit.phrase.names if name in numbers]
    if len(there) > 1:
        near = [name for name in there if _owner(name, catalog) in sentence.casefold()]
        there = near or there
    digits = re.sub(r"\s", "", hit.number).replace("−", "-").replace("–", "-")
    for name in there:
        value = numbers[name].value
        if not isinstance(value, str) and f"{value:g}" == digits.removeprefix("+"):
            return name
    return there[0] if there else None


def _owner(name: str, catalog: Catalog) -> str:
    kinds = ("class", "species", "feat", "item") if name.startswith("casting.") else ("item", "spell")
    return content(catalog, kinds, name.split(".")[1]).casefold()
