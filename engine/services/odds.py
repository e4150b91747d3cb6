"""Odds in a server: questions that take numbers from its builds, and names to choose from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from engine.build.document import Build
from engine.odds.asked import Asked, question_of
from engine.odds.compare import Compare, CompareAnswer, Item, answer_compare
from engine.odds.questions import Answer, ask
from engine.odds.sources import Figures, Filled, filled
from engine.odds.sources.attacks import attack_names
from engine.odds.sources.endings import pool_spells
from engine.odds.sources.rolls import roll_names
from engine.odds.sources.spells import spell_names
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.names import fold
from engine.services import library
from engine.services.find import find_build
from engine.services.shelves import catalog_to_look_up
from engine.services.views import Ref
from engine.services.views_of import document_at
from engine.sheet.states import find_states, state_names
from engine.store.uow import UnitOfWork

MOST_BUILDS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class AskOdds:
    """Ask a question, or compare several: more than one in `asked`."""

    server: int
    member: int
    asked: tuple[Asked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestRolls:
    """Ask which numbers of a build can be rolled. level None: its last one."""

    server: int
    member: int
    build: Ref
    kind: Literal["skill", "attack", "spell"]
    level: int | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OddsView:
    """An answer. counted: what builds and creatures brought, in words. left_out: what they have besides.

    private: whether a draft of the member's own took part, which nobody else may see. rules: title of the release that
    names were looked up in, empty where none was.
    """

    answer: Answer | CompareAnswer
    counted: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    private: bool = False
    rules: str = ""


def needs_store(asked: Sequence[Asked]) -> bool:
    """Tell whether a question takes anything from what a server has: builds, or names of what it plays by."""
    return any(one.builds or _looks_up(one) for one in asked)


def _looks_up(asked: Asked) -> bool:
    return asked.creature is not None or asked.use is not None


def answer_plain(asked: Sequence[Asked]) -> OddsView | Refused:
    """Return the answer to questions that take nothing from builds: no store is asked."""
    return _answer(asked, [[] for _ in asked], library.catalog(), private=False)


async def ask_odds(cmd: AskOdds, uow: UnitOfWork) -> OddsView | Refused:
    """Return the answer to questions that may take numbers from builds that the member may see.

    Refused: as `find_build`, a level the build does not have, a name that means nothing, or what the question says.
    """
    found: list[list[tuple[Build, Catalog]]] = []
    private = False
    async with uow.reading():
        for asked in cmd.asked:
            if len(asked.builds) > MOST_BUILDS:
                return Refused("too-many-builds", f"At most {MOST_BUILDS} builds take part in one question.")
            mine = []
            for ref in asked.builds:
                row = await find_build(uow, cmd.server, cmd.member, ref)
                if isinstance(row, Refused):
                    return row
                at = await document_at(uow, row, None)
                if isinstance(at, Refused):
                    return at
                private = private or not row.shared
                mine.append((at[1], at[2]))
            found.append(mine)
        catalog = await catalog_to_look_up(uow, cmd.server)
    figures: list[list[Figures]] = []
    for asked, builds in zip(cmd.asked, found, strict=True):
        worked = [_figures(build, catalog, asked) for build, catalog in builds]
        for one in worked:
            if isinstance(one, Refused):
                return one
        figures.append([one for one in worked if not isinstance(one, Refused)])
    return _answer(cmd.asked, figures, catalog, private=private)


async def suggest_rolls(cmd: SuggestRolls, uow: UnitOfWork) -> list[tuple[str, str]] | Refused:
    """Return up to 25 numbers of a build as (value to send, what it is called), those that hold the text.

    Refused: as `find_build`.
    """
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        found = row if isinstance(row, Refused) else await document_at(uow, row, None)
    if isinstance(found, Refused):
        return found
    _, build, catalog = found
    if build.top == 0:
        return []
    figures = Figures(build, catalog, min(max(cmd.level or build.top, 1), build.top))
    names = {"skill": roll_names, "attack": attack_names, "spell": spell_names}[cmd.kind](figures)
    wanted = fold(cmd.text)
    return [(value, called) for value, called in names if wanted in fold(called)][:25]


def suggest_creatures(catalog: Catalog, text: str) -> list[str]:
    """Return up to 25 creatures of a catalogue whose name holds the text."""
    wanted = fold(text)
    return [name for name in catalog.names("creature") if wanted in fold(name)][:25]


def suggest_pools(catalog: Catalog, text: str) -> list[str]:
    """Return up to 25 spells that lay creatures low by a pool of hit points, whose name holds the text."""
    wanted = fold(text)
    return [called for _, called in pool_spells(catalog) if wanted in fold(called)][:25]


def suggest_states(catalog: Catalog, text: str) -> list[str]:
    """Return up to 25 states and conditions of a catalogue whose name holds the text."""
    wanted = fold(text)
    names = [*catalog.names("state"), *catalog.names("condition")]
    return [name for name in dict.fromkeys(names) if wanted in fold(name)][:25]


def _figures(build: Build, catalog: Catalog, asked: Asked) -> Figures | Refused:
    if build.top == 0:
        return Refused("no-such-level", f"{build.name} has no levels yet.")
    level = build.top if asked.level is None else asked.level
    if not 1 <= level <= build.top:
        return Refused("no-such-level", f"{build.name} has levels 1 to {build.top}; {level} is none of them.")
    states = find_states(asked.states, catalog)
    if isinstance(states, Refused):
        return states
    return Figures(build, catalog, level, states)


def _answer(
    asked: Sequence[Asked], figures: Sequence[Sequence[Figures]], catalog: Catalog, *, private: bool
) -> OddsView | Refused:
    complete: list[Filled] = []
    for one, builds in zip(asked, figures, strict=True):
        found = _filled(one, builds, catalog)
        if isinstance(found, Refused):
            return Refused(found.code, f"{one.label}: {found.sentence}") if one.label else found
        complete.append(found)
    on = (_switched_on(figures) for builds in figures for figures in builds)
    counted = tuple(dict.fromkeys([*(line for line in on if line), *(line for each in complete for line in each.told)]))
    left_out = tuple(dict.fromkeys(line for each in complete for line in each.left_out))
    answer: Answer | CompareAnswer | Refused
    if len(complete) == 1:
        answer = ask(complete[0].question)
    else:
        labels = [one.label or f"{place}. {one.kind}" for place, one in enumerate(asked, 1)]
        items = [Item(label=label, question=each.question) for label, each in zip(labels, complete, strict=True)]
        answer = answer_compare(Compare(items=tuple(items)))
    if isinstance(answer, Refused):
        return answer
    looked_up = next((builds[0].catalog for builds in figures if builds), None)
    if looked_up is None and any(map(_looks_up, asked)):
        looked_up = catalog
    rules = looked_up.folios[0].title if looked_up is not None else ""
    return OddsView(answer=answer, counted=counted, left_out=left_out, private=private, rules=rules)


def _switched_on(figures: Figures) -> str:
    names = state_names(figures.at.gathered.states, figures.catalog)
    return f"{figures.name} while: {', '.join(names)}" if names else ""


def _filled(asked: Asked, builds: Sequence[Figures], catalog: Catalog) -> Filled | Refused:
    if not builds and asked.creature is None and asked.use is None:
        question = question_of(asked.kind, asked.fields)
        return question if isinstance(question, Refused) else Filled(question=question)
    return filled(asked, builds, builds[0].catalog if builds else catalog)
