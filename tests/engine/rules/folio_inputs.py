"""Folios for the fuzz tests: drawn from the published schema, and made of the worked ones by spoiling them.

Nothing here knows what the loader refuses. Words are drawn from small pools, so that most references meet something.
"""

import json
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import yaml
from hypothesis import strategies as st

from engine.rules.content import FOLDERS
from engine.rules.folio_schema import shipped_schema

FOLIOS: Final = Path(__file__).parents[2] / "data" / "folios"
Draw = st.DrawFn
Data = Any

NUMBERS: Final = (
    0, 1, 2, -1, "wis", "proficiency_bonus", "max(1, con)", "half_up(character_level)", "when(shield, 1, wis_score)",
    "div_down(character_level, 0)", "min(999999, 999999 * 999999)", "level_of('fighter') + has('second-wind')",
)  # fmt: skip
CONDITIONS: Final = ("no_armor", "weapon and melee", "not heavy_armor", "knows('light') or state('rage')", True)
DICE: Final = ("1d4", "2d6", "40d100", "dice(2, 8)")
IDS: Final = ("ebb", "flow", "reef", "swell")
NAMES: Final = ("Ebb", "**Flow**", "<@1> Reef", "Swell, the 2nd", "[x](https://example.com)", "@everyone")
CHECKS: Final = ("all", "wis", "perception", "athletics", "navigators-tools", "dex")
SPELLS: Final = ("light", "fog-cloud", "shield")
CLASSES: Final = ("fighter", "wizard", "ranger", "cleric")
# Key of a model -> what its texts and ids are drawn from.
POOLS: Final[dict[str, tuple[Any, ...]]] = {
    "id": IDS, "name": NAMES, "title": NAMES, "summary": NAMES, "section": NAMES, "label": NAMES, "also": NAMES,
    "limited": NAMES, "against": NAMES, "text": NAMES, "no_number": NAMES, "requires_text": NAMES,
    "checks": CHECKS, "skills": ("perception", "stealth"), "saves": ("wis", "all", "con"), "to": ("cold", "fire"),
    "ids": ("perception", "wis", "light", "simple", "common", "navigators-tools"), "damage": ("cold", "slashing"),
    "spells": SPELLS, "list": CLASSES, "lists": CLASSES, "classes": CLASSES, "offered_to": CLASSES,
    "keyword": ("skill", "language", "style", "increase", "feat", "cantrip", "knot"), "pool": ("ebb", "rage"),
    "from": ("perception", "archery", "str", "light"), "but": ("perception", "archery"), "schools": ("evocation",),
    "needs": ("rage", "light", "second-wind"), "type": ("cold", "beast"), "types": ("cold",), "of": CLASSES,
    "replaces": ("second-wind", "ebb"), "groups": ("gaming-set",), "contents": ("torch", "20 arrow"),
    "base": ("longsword", "leather-armor"), "options": ("torch", "any-simple-weapon", "5 torch"),
    "condition_immunities": ("prone",), "challenge": ("1/4", "3"), "form_of": ("wolf",), "casting": IDS,
    "dice": ("1d6", "8d6", "1d8+MOD"), "die": ("1d8", "2d4"), "versatile": ("1d10",), "casting_time": ("1 action",),
    "range": ("self", "60 feet"), "duration": ("1 hour",), "family": IDS, "hp_dice": ("2d8",), "kind": ("ring", "rod"),
}  # fmt: skip


@lru_cache(maxsize=1)
def schema() -> dict[str, Any]:
    """Return the schema that ships."""
    return shipped_schema()


def from_schema(node: dict[str, Any], key: str = "", depth: int = 0) -> st.SearchStrategy[Data]:
    """Return what a node of the schema describes. key: under which it stands; depth: lists and blocks around it."""
    if "$ref" in node:
        return _definition(node["$ref"].rpartition("/")[2], depth)
    if "const" in node:
        return st.just(node["const"])
    if "enum" in node:
        return st.sampled_from(node["enum"])
    alternatives = node.get("anyOf") or node.get("oneOf")
    if alternatives:
        if {"boolean", "integer", "string"} <= {part.get("type") for part in alternatives}:
            return st.sampled_from(_formulas(key))
        wanted = [part for part in alternatives if part.get("type") != "null"]
        return st.one_of([from_schema(part, key, depth) for part in wanted])
    match node.get("type"):
        case "string":
            return _text(node, key)
        case "integer":
            low, high = node.get("minimum", 0), node.get("maximum", 30)
            return st.integers(low, max(low, min(high, low + 30)))
        case "number":
            return st.sampled_from([0, 0.5, 3, 12.25])
        case "boolean":
            return st.booleans()
        case "array" if "prefixItems" in node:
            return st.tuples(*(from_schema(part, key, depth + 1) for part in node["prefixItems"])).map(list)
        case "array":
            return _list(node, key, depth)
        case _:
            return _mapping(node, key, depth)


@lru_cache(maxsize=256)
def _definition(name: str, depth: int) -> st.SearchStrategy[Data]:
    return st.deferred(lambda: from_schema(schema()["$defs"][name], depth=depth + 1))


def _formulas(key: str) -> tuple[Any, ...]:
    if key in ("when", "requires"):
        return CONDITIONS
    return DICE if key in ("die", "dice") else NUMBERS


def _text(node: dict[str, Any], key: str) -> st.SearchStrategy[str]:
    pool = POOLS.get(key)
    if pool is None:
        pool = ("1d6", "1", "unlimited") if "pattern" in node else NAMES
    return st.sampled_from(pool)


def _list(node: dict[str, Any], key: str, depth: int) -> st.SearchStrategy[list[Data]]:
    least = node.get("minItems", 0)
    inner = node.get("items", {"type": "string"})
    if least == 20:  # a table: one cell for each level
        return from_schema(inner, key, depth + 1).map(lambda cell: [cell] * 20)
    if depth > 6 and not least:
        return st.just([])
    # Grants are what the sheet is made of, so a feature has some more often than not.
    most = max(least, 3 if key in ("grants", "features") else 2)
    return st.lists(from_schema(inner, key, depth + 1), min_size=max(least, int(key == "grants")), max_size=most)


def _mapping(node: dict[str, Any], key: str, depth: int) -> st.SearchStrategy[dict[str, Data]]:
    properties: dict[str, Any] = node.get("properties", {})
    if not properties:
        if key == "tables":
            columns = {"slots_1": [2] * 20, "tides": ["1d6"] * 20}
            return st.sampled_from([{}, columns])
        return st.dictionaries(st.sampled_from(["wis", "str", "walk"]), st.integers(1, 30), max_size=2)
    # Which grant it is stands in `kind`, although the models do not demand it.
    needed = {*node.get("required", ()), *(name for name, part in properties.items() if "const" in part)}
    parts = {name: from_schema(part, name, depth + 1) for name, part in properties.items()}
    wanted = {name: part for name, part in parts.items() if name in needed or name in ("features", "grants")}
    others = [name for name in parts if name not in wanted]

    @st.composite
    def drawn(draw: Draw) -> dict[str, Data]:
        found = {name: draw(part) for name, part in wanted.items()}
        for name in draw(st.lists(st.sampled_from(others), max_size=2, unique=True)) if others else ():
            found[name] = draw(parts[name])
        return found

    return drawn()


HEADER: Final = {
    "id": "tide-guild",
    "title": "Tide Guild",
    "version": "1",
    "licence": "CC-BY-4.0",
    "attribution": "the guild of coastal cartographers",
    "extends": "srd-5.1",
}


@st.composite
def from_the_schema(draw: Draw) -> bytes:
    """Draw a folio in one file: a sound header and one or two entries, each as the schema says."""
    data: dict[str, Data] = dict(HEADER)
    for folder in draw(st.lists(st.sampled_from(list(FOLDERS)), min_size=1, max_size=2, unique=True)):
        entry = schema()["properties"][folder]["items"]
        data[folder] = [draw(from_schema(entry, folder))]
    if draw(st.integers(0, 9)) == 0:
        data["lists"] = {draw(st.sampled_from(CLASSES)): [draw(st.sampled_from(SPELLS))]}
    return json.dumps(data, ensure_ascii=False).encode()


# -- spoilt ----------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def worked() -> tuple[dict[str, Data], ...]:
    """Return the worked folios, each as one file would hold it."""
    found = []
    for name in ("coast-pilots", "harbour-watch.yaml", "driftborn.yaml"):
        place = FOLIOS / name
        data = yaml.safe_load((place / "folio.yaml" if place.is_dir() else place).read_bytes())
        for path in sorted(place.glob("*/*.yaml")):
            entries = yaml.safe_load(path.read_bytes())
            data[path.parent.name] = entries if isinstance(entries, list) else [entries]
        found.append(data)
    return tuple(found)


ODD: Final = (
    None, True, 0, -7, 3, 999_999_999, 0.5, "", "x", "1d6", "wis", "unlimited", "level_of('fighter')", [], ["wis"], {},
    {"kind": "note", "text": "x"}, [[[[]]]], "<@&5> *x*", "a\u202eb", "x" * 300, "(" * 90, "archery", "fighter",
)  # fmt: skip


@st.composite
def spoilt(draw: Draw) -> bytes:
    """Draw a worked folio with one or two of its parts changed, taken away, doubled or put elsewhere."""
    data = json.loads(json.dumps(draw(st.sampled_from(worked()))))
    for _ in range(draw(st.sampled_from([1, 1, 1, 2]))):
        inside, key = draw(st.sampled_from(_places(data)))
        _spoil(draw, inside, key)
    return json.dumps(data, ensure_ascii=False).encode()


def _places(data: Data) -> list[tuple[Data, Any]]:
    """Return every list and block with each of its keys, entries and what is in them more than the header."""
    found: list[tuple[Data, Any]] = []
    for key in list(data) if isinstance(data, dict) else range(len(data)):
        found.append((data, key))
        if isinstance(data[key], dict | list) and data[key]:
            found.extend(_places(data[key]))
    return found


def _spoil(draw: Draw, inside: Data, key: Any) -> None:
    value = inside[key]
    match draw(st.sampled_from(["other", "away", "away", "twice", "nudge", "nudge", "nudge", "move", "move"])):
        case "away":
            del inside[key]
        case "twice" if isinstance(inside, list):
            inside.insert(key, value)
        case "nudge" if isinstance(value, int):
            inside[key] = value + draw(st.sampled_from([-1, 1, 2, 19]))
        case "nudge" if isinstance(value, list):
            value.reverse()
        case "nudge" if isinstance(value, str):
            inside[key] = draw(st.sampled_from([f"{value} ", value.title(), value[:-1], f"{value}-ii", f" {value}"]))
        case "move":
            moved = list(inside.items())[::-1] if isinstance(inside, dict) else inside[::-1]
            inside.clear()
            inside.update(moved) if isinstance(inside, dict) else inside.extend(moved)
        case _:
            inside[key] = draw(st.sampled_from(ODD))


@lru_cache(maxsize=1)
def texts() -> tuple[str, ...]:
    """Return the text of the worked folios that stand in one file, and of a class in its own."""
    return tuple((FOLIOS / name).read_text(encoding="utf-8") for name in ("harbour-watch.yaml", "driftborn.yaml"))


@st.composite
def mistyped(draw: Draw) -> bytes:
    """Draw the text of a worked folio with one or two slips of the hand: lines, words and signs lost or doubled."""
    lines = draw(st.sampled_from(texts())).split("\n")
    for _ in range(draw(st.sampled_from([1, 1, 1, 2]))):
        at = draw(st.integers(0, len(lines) - 1))
        line = lines[at]
        place = draw(st.integers(0, len(line)))
        match draw(st.sampled_from(["sign", "gone", "line", "twice", "indent", "digit", "comment", "blank", "swap"])):
            case "sign":
                signs = st.sampled_from(["{", "]", ": ", "*a", "&a ", "!x ", "#", "'", "\t", "\0", "- ", "e", "\ud7ff"])
                lines[at] = line[:place] + draw(signs) + line[place:]
            case "gone":
                lines[at] = line[:place] + line[place + 1 :]
            case "line":
                del lines[at]
                lines = lines or [""]
            case "twice":
                lines.insert(at, line)
            case "indent":
                lines[at] = f" {line}"
            case "digit":
                lines[at] = "".join(str((int(c) + 1) % 10) if c in "0123456789" else c for c in line)
            case "comment":
                lines[at] = f"{line} # as agreed"
            case "blank":
                lines.insert(at, "")
            case _:
                other = draw(st.integers(0, len(lines) - 1))
                lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines).encode("utf-8", "surrogatepass")
