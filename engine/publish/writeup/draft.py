"""The frame of a write-up: a heading a level, its choices, changed numbers, goals met, every number marked."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from engine.audit import GoalResult
from engine.build.document import EMPTY_LINE, Build, Line
from engine.build.outline import print_level
from engine.publish.words import called, shown
from engine.rules.catalog import Catalog
from engine.sheet import Sheet
from engine.sheet.number import Number

_MARKUP: Final = re.compile(r"([\\`*_\[\]<>&#~|!])")
_OPENS_BLOCK: Final = re.compile(r"^(\s*)([-+=](?=\s|$|[-=])|\d{1,9}(?=[.)]))")
# Numbers that follow from others, or that no reader of a write-up asks for; a mark for them can be typed by hand.
_QUIET: Final = ("check.", "carry.", "hit_dice.", "level.", "attunement.", "pact.slot_level")
_QUIET_ENDS: Final = (".lowest", ".modifier", ".spellbook", ".top_level", ".cantrips", ".known", ".prepared")
ARROW: Final = "→"


def draft(
    build: Build, catalog: Catalog, sheets: Sequence[Sheet], goals: Sequence[GoalResult], findings: Sequence[str] = ()
) -> str:
    """Return the Markdown frame of a build's write-up, lines ended by a newline.

    sheets: of levels 1 to the build's last. goals: its results. findings: sentences about what is unfinished or broken;
    where there are any, the frame says that it is partial.
    """
    blocks = [f"# {escaped(build.name)}"]
    if build.concept:
        blocks.append(escaped(build.concept))
    blocks.append(f"Rules: {escaped(catalog.folios[0].title)}.")
    if not sheets:
        blocks.append("This build has no levels yet, so there are no numbers to tell.")
    if findings:
        listed = "\n".join(f"- {escaped(sentence)}" for sentence in findings)
        blocks.append(f"This frame is partial; the build is not finished:\n\n{listed}")
    before: Mapping[str, Number] = {}
    for level, class_id, nth, line in build.lines():
        sheet = sheets[level - 1]
        blocks.append(f"## Level {level}: {_class(catalog, build, class_id, nth, line)}")
        if line.items:
            blocks.append(f"Choices: {escaped(_choices(build, level, line, catalog))}.")
        changed = list(_changes(before, sheet, catalog))
        if changed:
            blocks.append("\n".join(f"- {row}" for row in changed))
        blocks += [f"Goal met: {_goal(goal)}." for goal in goals if goal.met and goal.from_level == level]
        before = sheet.numbers
    missed = [goal for goal in goals if goal.met is False]
    if missed:
        rows = "\n".join(f"- {_goal(goal)}{f': {escaped(goal.nearest)}' if goal.nearest else ''}" for goal in missed)
        blocks.append(f"## Goals not met\n\n{rows}")
    return "\n\n".join(blocks) + "\n"


def escaped(text: str) -> str:
    """Return text that Markdown shows letter by letter, on one line."""
    flat = _MARKUP.sub(r"\\\1", " ".join(text.split()))
    return _OPENS_BLOCK.sub(lambda m: f"{m[1]}{m[2]}\\" if m[2].isdigit() else f"{m[1]}\\{m[2]}", flat)


def mark(name: str, level: int, value: float | str) -> str:
    """Return a number as a mark."""
    return f"[{shown(name, value)}](num:{level}/{name})"


def _class(catalog: Catalog, build: Build, class_id: str, nth: int, line: Line) -> str:
    words = f"{catalog.name_of('class', class_id)} {nth}"
    if line.subclass:
        words += f" ({catalog.name_of('subclass', line.subclass)})"
    return escaped(words)


def _choices(build: Build, level: int, line: Line, catalog: Catalog) -> str:
    """Return what the line says beyond its class, as the outline writes it."""
    text = print_level(build, level, catalog)
    bare = print_level(_without_items(build, level, line), level, catalog)
    return text[len(bare) :].removeprefix(":").strip()


def _without_items(build: Build, level: int, line: Line) -> Build:
    class_id, nth = next((c, n) for at, c, n, _ in build.lines() if at == level)
    kept = line.model_copy(update={"items": ()})
    lines = {n: each for n, each in build.levels.get(class_id, {}).items() if n != nth}
    if kept != EMPTY_LINE:
        lines[nth] = kept
    return build.model_copy(update={"levels": {**build.levels, class_id: lines}})


def _changes(before: Mapping[str, Number], sheet: Sheet, catalog: Catalog) -> Iterator[str]:
    for name, number in sheet.numbers.items():
        old = before.get(name)
        if number is old or _quiet(name) or (old is not None and old.value == number.value):
            continue
        if old is None and before and number.value == 0:
            continue
        if not before and (number.value == 0 or not _worth_a_start(name, number)):
            continue
        words = escaped(called(name, catalog))
        if old is None:
            yield f"{words} {mark(name, sheet.level, number.value)}"
        else:
            was = mark(name, sheet.level - 1, old.value)
            yield f"{words} {was} {ARROW} {mark(name, sheet.level, number.value)}"


def _quiet(name: str) -> bool:
    if name.endswith(".passive"):
        return name != "skill.perception.passive"
    return name.startswith(_QUIET) or name.endswith(_QUIET_ENDS)


def _worth_a_start(name: str, number: Number) -> bool:
    """Tell whether the first level should name a number: skills only if trained, and not what every body can do."""
    if name.startswith("attack.unarmed-strike"):
        return False
    if name.startswith("skill.") and name.count(".") == 1:
        return any(reason.label.startswith("proficiency bonus") for reason in number.reasons)
    return True


def _goal(goal: GoalResult) -> str:
    return escaped(goal.text)
