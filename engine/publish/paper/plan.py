"""What stands on the plan of all levels: one row a level, its choices and the numbers that tell most."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.audit.context import AuditContext
from engine.audit.goals import goals_of
from engine.build.document import Build
from engine.build.outline import print_level
from engine.publish.paper.sheet import attribution, classes
from engine.publish.words import capital, content, shown, still_open
from engine.rules.catalog import Catalog
from engine.sheet.number import Number

LEVELS = 20


def plan_data(build: Build, catalog: Catalog) -> dict[str, Any]:
    """Return the data of the plan. Levels that the build does not have are rows to write in.

    Raises: ValueError for a build without levels.
    """
    if not build.top:
        raise ValueError(f"{build.name} has no levels yet")
    ctx = AuditContext.of(build, catalog)
    rows = []
    before = ""
    for level, class_id, nth, line in build.lines():
        text = print_level(build, level, catalog).partition(" ")[2]
        class_words = f"{catalog.name_of('class', class_id)} {nth}"
        _, colon, choices = text.partition(":")
        subclass = f" ({catalog.name_of('subclass', line.subclass)})" if line.subclass else ""
        numbers = ctx.sheets[level - 1].numbers
        rows.append(
            {
                "level": str(level),
                "class": class_words + subclass,
                "new_class": class_id != before,
                "choices": choices.strip() if colon else "",
                "hp": _value(numbers, "hp.max"),
                "ac": _value(numbers, "ac"),
                "bonus": _value(numbers, "proficiency_bonus"),
                "dc": _highest(numbers, ".save_dc"),
                "hit": _highest(numbers, ".to_hit"),
                "passive": _value(numbers, "skill.perception.passive"),
                "best": _best_skill(numbers, catalog),
                "slots": _slots(numbers),
            }
        )
        before = class_id
    keys = list(rows[0])
    rows += [{**dict.fromkeys(keys, ""), "level": str(n), "new_class": False} for n in range(build.top + 1, LEVELS + 1)]
    return {
        "name": build.name,
        "concept": build.concept or "",
        "classes": classes(build, catalog, build.top),
        "rules": catalog.folios[0].title,
        "unfinished": capital(still_open(ctx, build.top)),
        "rows": rows,
        "goals": [
            {"text": goal.text, "state": _state(goal.met, goal.from_level, goal.nearest)} for goal in goals_of(ctx)
        ],
        "attribution": attribution(catalog),
    }


def _state(met: bool | None, since: int | None, nearest: str | None) -> str:
    if met is None:
        return "for people to judge"
    if met:
        return f"met from level {since}"
    return f"not met: {nearest}" if nearest else "not met"


def _value(numbers: Mapping[str, Number], name: str) -> str:
    number = numbers.get(name)
    return shown(name, number.value) if number is not None else "–"


def _highest(numbers: Mapping[str, Number], ending: str) -> str:
    found = [
        (number.value, name)
        for name, number in numbers.items()
        if name.endswith(ending) and isinstance(number.value, int)
    ]
    if not found:
        return "–"
    value, name = max(found)
    return shown(name, value)


def _best_skill(numbers: Mapping[str, Number], catalog: Catalog) -> str:
    skills = [
        (number.value, name.split(".")[1])
        for name, number in numbers.items()
        if name.startswith("skill.") and name.count(".") == 1 and isinstance(number.value, int)
    ]
    value = max(value for value, _ in skills)
    names = [content(catalog, ("skill",), id_) for of, id_ in skills if of == value]
    return f"{names[0]} {value:+d}" + (f" and {len(names) - 1} more" if len(names) > 1 else "")


def _slots(numbers: Mapping[str, Number]) -> str:
    counts = [numbers[f"slots.{n}"].value for n in range(1, 10)]
    while counts and not counts[-1]:
        counts.pop()
    text = " ".join(f"{count}" for count in counts)
    pact = numbers["pact.slots"].value
    if pact:
        text += f"{' + ' if text else ''}pact {pact}"
    return text
