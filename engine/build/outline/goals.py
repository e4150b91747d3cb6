"""Goal lines, read and printed."""

import re
from collections.abc import Sequence
from typing import Final, Literal

from engine.build.document import MAX_TEXT, NUMBER_NAME, Goal, GoalForm
from engine.build.outline.cursor import Cursor, quoted
from engine.build.outline.held import Held
from engine.build.outline.items import ItemReader
from engine.build.outline.names import index, scan, whole
from engine.build.plain import plain
from engine.rules.catalog import Catalog
from engine.rules.names import nearest
from engine.rules.words import ABILITIES

# First words of the names of numbers (design, section 5) -> kind of the id behind the dot, where it is one of a kind.
NUMBERS: Final[dict[str, str | None]] = {
    "ability": "ability", "check": "ability", "proficiency_bonus": None, "level": None, "hp": None, "hit_dice": None,
    "ac": None, "initiative": None, "speed": None, "senses": None, "carry": None, "attunement": None, "save": "ability",
    "skill": "skill", "tool": "tool", "casting": None, "slots": None, "pact": None, "attack": None, "attacks": None,
    "pool": None,
}  # fmt: skip
PROFICIENT: Final = ("skill", "tool", "language", "weapon-group", "armor-group", "item", "save")
FORMS: Final = (
    "`NAME >= V at N`, `NAME >= V by N`, `knows SPELL by N`, `resists TYPE by N`, `proficient in NAME by N`, "
    "`check SKILL dc D >= P% at N`, or words of one's own in quotes"
)
_WORD: Final = re.compile(r"(knows|resists|proficient\s+in|check)(?=\s|\")", re.I)
_NUMBER: Final = re.compile(r"[A-Za-z0-9_./-]+")
_AT_LEAST: Final = re.compile(r">=|≥")
_VALUE: Final = re.compile(r"[+-]?\d+(?![\d.])")
_DC: Final = re.compile(r"dc\s*(\d+)", re.I)
_PERCENT: Final = re.compile(r"(\d+)\s*%")
_WHEN: Final = re.compile(r"(at|by)\s+(?:level\s+)?(\d+)", re.I)
_BEFORE_BY: Final = re.compile(r"\s+(?:at|by)\s", re.I)
_BEFORE_DC: Final = re.compile(r"\s+dc\s*\d", re.I)
_KINDS: Final[dict[str, tuple[GoalForm, tuple[str, ...], str]]] = {
    "knows": ("knows", ("spell",), "spell"),
    "resists": ("resists", ("damage-type",), "damage type"),
    "proficient in": ("proficient", PROFICIENT, "skill, tool, language, weapon, armor or save"),
    "check": ("check", ("skill",), "skill"),
}


def read_goal(cursor: Cursor, catalog: Catalog) -> Goal | None:
    """Read the goal at a cursor, to the end of the line; None, and an error, if it has none of the forms."""
    goal = _goal(cursor, catalog)
    if goal is None or cursor.done:
        return goal
    cursor.wrong(f"{cursor.shown()} does not follow here; the goal ends before it", "the end of the line")
    return None


def _goal(cursor: Cursor, catalog: Catalog) -> Goal | None:
    if cursor.here == '"':
        start = cursor.pos
        text = cursor.quoted()
        if text is not None and not 0 < len(plain(text)) <= MAX_TEXT:
            cursor.wrong(f"a goal in words has 1 to {MAX_TEXT:,} characters", "a text in quotes", at=start)
            return None
        return Goal.model_construct(form="text", text=text) if text is not None else None
    if word := cursor.match(_WORD):
        return _named(cursor, catalog, " ".join(word[1].lower().split()))
    return _compare(cursor, catalog)


def _named(cursor: Cursor, catalog: Catalog, word: str) -> Goal | None:
    form, kinds, noun = _KINDS[word]
    id_ = _id(cursor, catalog, kinds, noun, _BEFORE_DC if form == "check" else _BEFORE_BY)
    if id_ is None:
        return None
    if form != "check":
        level = _level(cursor, "by")
        return Goal.model_construct(form=form, name=id_, level=level[1]) if level else None
    dc = cursor.match(_DC)
    if dc is None or not 1 <= int(dc[1][:9]) <= 99:
        cursor.wrong("expected the difficulty here, as in `dc 20` (1 to 99)", "`dc D`")
        return None
    percent = cursor.match(_PERCENT) if cursor.match(_AT_LEAST) else None
    if percent is None or int(percent[1][:9]) > 100:
        cursor.wrong("expected the chance here, as in `>= 50%` (0 to 100)", "`>= P%`")
        return None
    level = _level(cursor, "at")
    if level is None:
        return None
    return Goal.model_construct(form="check", name=id_, dc=int(dc[1]), value=int(percent[1]), when="at", level=level[1])


def _id(cursor: Cursor, catalog: Catalog, kinds: Sequence[str], noun: str, behind: re.Pattern[str]) -> str | None:
    indexes = [index(catalog, kind) for kind in kinds]
    return ItemReader(cursor, catalog, Held()).name(indexes, noun, behind)


def _compare(cursor: Cursor, catalog: Catalog) -> Goal | None:
    start = cursor.pos
    found = cursor.match(_NUMBER)
    if found is None or not cursor.match(_AT_LEAST):
        cursor.wrong(f"this is no goal; expected {FORMS}", FORMS, at=start)
        return None
    name = found[0].lower()
    if not _known_number(cursor, catalog, name, start):
        return None
    value = cursor.match(_VALUE)
    if value is None or len(value[0]) > 9:
        cursor.wrong(f"expected a whole number behind `>=`, not {cursor.shown()}", "a whole number")
        return None
    level = _level(cursor, None)
    if level is None:
        return None
    when, at = level
    return Goal.model_construct(form="compare", name=name, value=int(value[0]), when=when, level=at)


def _known_number(cursor: Cursor, catalog: Catalog, name: str, start: int) -> bool:
    parts = name.split(".")
    if parts[0] not in NUMBERS or not NUMBER_NAME.fullmatch(name):
        near = nearest(parts[0], NUMBERS)
        cursor.wrong(
            f"`{name}` is the name of no number; expected one such as `skill.perception.passive` or `hp.max`",
            "the name of a number",
            near,
            at=start,
        )
        return False
    kind = NUMBERS[parts[0]]
    if kind is None:
        return True
    ids = ABILITIES if kind == "ability" else tuple(index(catalog, kind).shown)
    if len(parts) < 2 or parts[1] not in ids:
        written = parts[1] if len(parts) > 1 else ""
        near = [f"{parts[0]}.{id_}" for id_ in nearest(written, ids)] if written else []
        cursor.wrong(
            f"`{name}` is the name of no number: `{written}` is no {kind} that a loaded folio knows",
            f"`{parts[0]}.` and the id of a {kind}",
            near,
            at=start,
        )
        return False
    return True


def _level(cursor: Cursor, word: str | None) -> tuple[Literal["at", "by"], int] | None:
    start = cursor.pos
    found = cursor.match(_WHEN)
    if found is None or (word and found[1].lower() != word):
        wanted = f"`{word} N`" if word else "`at N` or `by N`"
        cursor.wrong(f"expected {wanted} here with a level from 1 to 20, not {cursor.shown()}", wanted, at=start)
        return None
    level = int(found[2][:9])
    if not 1 <= level <= 20:
        cursor.wrong(f"level {level} is out of range; expected 1 to 20", "a level from 1 to 20", at=start)
        return None
    return "at" if found[1].lower() == "at" else "by", level


def print_goal(goal: Goal, catalog: Catalog) -> str:
    """Return what stands behind `Goal:`."""
    if goal.form == "text":
        return quoted(goal.text or "")
    if goal.form == "compare":
        return f"{goal.name} >= {goal.value} {goal.when} {goal.level}"
    word, kinds = next((word, kinds) for word, (form, kinds, _) in _KINDS.items() if form == goal.form)
    end = f" dc {goal.dc} >= {goal.value}% at {goal.level}" if goal.form == "check" else f" by {goal.level}"
    behind = _BEFORE_DC if goal.form == "check" else _BEFORE_BY
    return f"{word} {_printed(goal.name or '', catalog, kinds, end, behind)}{end}"


def _printed(id_: str, catalog: Catalog, kinds: Sequence[str], after: str, behind: re.Pattern[str]) -> str:
    indexes = [index(catalog, kind) for kind in kinds]
    forms = [form for names in indexes if (form := names.form(id_)) and whole(form, indexes) == (id_,)]
    form = forms[0] if forms else id_
    hit = scan(form + after, 0, indexes, behind) if form[0].isalnum() else None
    return form if hit and hit.end == len(form) and hit.ids == (id_,) else quoted(form)
