"""A build at a level, worked out once for all that a question takes from it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.sheet.abilities import abilities
from engine.sheet.gather import gather
from engine.sheet.number import Number
from engine.sheet.plan import At, Plan
from engine.sheet.whole import at_level


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """What a source brings to a question.

    fields: by the names of `engine.odds.asked.FIELDS`. told: what was counted, in words, one entry a source. left_out:
    what the source has but does not count here. types: damage types dealt, magic: whether by magic. ability: of the
    saving throw that the source asks for.
    """

    fields: Mapping[str, Any] = field(default_factory=dict)
    told: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    types: tuple[str, ...] = ()
    magic: bool = False
    ability: str | None = None


class Figures:
    """A build at a character level with states switched on.

    name, level: whose figures these are. at: what holds there. numbers: the sheet's, by name.
    """

    def __init__(self, build: Build, catalog: Catalog, level: int, states: Iterable[str] = ()) -> None:
        """level: one that the build has. states: ids. Raises: ValueError for another level."""
        if not 1 <= level <= build.top:
            raise ValueError(f"the build has levels 1 to {build.top}; {level} is none of them")
        plan = Plan(gather(build, catalog, tuple(states)))
        scores, _ = abilities(plan, level)
        self.build = build
        self.catalog = catalog
        self.name = build.name
        self.level = level
        self.at = At(plan, level, scores)
        self.numbers: Mapping[str, Number] = at_level(plan, level).numbers

    def value(self, name: str) -> int:
        """Return a number of the sheet that is a whole number, 0 where the build has none."""
        number = self.numbers.get(name)
        return int(number.value) if number is not None and not isinstance(number.value, str) else 0

    def whose(self) -> str:
        """Return `Reed Warden, level 8`."""
        return f"{self.name}, level {self.level}"
