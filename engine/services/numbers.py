"""What differs between builds, what is open on one, what could be changed: reads without a change."""

import asyncio
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from engine.audit import OpenChoice, legal_picks, open_choices
from engine.audit.context import Rolls
from engine.build.document import Build, Choose, Increase, canonical
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.names import fold
from engine.rules.words import ABILITIES
from engine.services.find import find_build
from engine.services.items import choose_text, place_of, texts_of
from engine.services.rolls import witnessed
from engine.services.texts import level_refusal
from engine.services.views import BuildView, ComparedBuilds, OpenView, Ref
from engine.services.views_of import build_view
from engine.services.working import differs
from engine.store.uow import UnitOfWork

_SUGGESTED: Final = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareBuilds:
    """Ask what differs between two builds, or between two revisions of one.

    other None: the build itself; revision and other_revision None: the newest, but for one build alone the one before.
    """

    server: int
    member: int
    build: Ref
    other: Ref | None = None
    revision: int | None = None
    other_revision: int | None = None
    level: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeeOpenChoices:
    """Ask what a build has still to choose at a level, None for the level after its last."""

    server: int
    member: int
    build: Ref
    level: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestChanges:
    """Ask what could be taken off a level (adding False), or added to it (True), whose text holds what was typed."""

    server: int
    member: int
    build: Ref
    level: int
    text: str = ""
    adding: bool = False


async def compare_builds(cmd: CompareBuilds, uow: UnitOfWork) -> ComparedBuilds | Refused:
    """Return two builds or revisions and what differs from the first to the second.

    Refused: as `get_build`, "no-such-level", "nothing-to-compare" for a build of one revision.
    """
    async with uow.reading():
        after = await _side(cmd, uow, cmd.build if cmd.other is None else cmd.other, cmd.other_revision)
        if isinstance(after, Refused):
            return after
        earlier = cmd.revision
        if cmd.other is None and earlier is None:
            earlier = after.revision.number - 1
            if earlier < 1:
                return Refused(
                    "nothing-to-compare", f"{after.name} has one revision only; name another build to compare it with."
                )
        before = await _side(cmd, uow, cmd.build, earlier)
        if isinstance(before, Refused):
            return before
        rolls: Rolls = {
            **await witnessed(uow, cmd.server, before.number, before.build),
            **await witnessed(uow, cmd.server, after.number, after.build),
        }
    if cmd.level is not None:
        refused = level_refusal(before.build, cmd.level) or level_refusal(after.build, cmd.level)
        if refused is not None:
            return refused
    difference = await differs(before.build, after.build, before.catalog, after.catalog, rolls)
    return ComparedBuilds(before=before, after=after, level=cmd.level, difference=difference)


async def see_open_choices(cmd: SeeOpenChoices, uow: UnitOfWork) -> OpenView | Refused:
    """Return what is open at a level. Refused: as `get_build`, "no-such-level"."""
    view = await _newest(cmd, uow)
    if isinstance(view, Refused):
        return view
    level = min(view.build.top + 1, 20) if cmd.level is None else cmd.level
    if level != 1 and level != view.build.top + 1:
        refused = level_refusal(view.build, level)
        if refused is not None:
            return refused
    found: tuple[OpenChoice, ...] = await asyncio.to_thread(open_choices, view.build, view.catalog, level)
    return OpenView(view=view, level=level, choices=found)


async def suggest_changes(cmd: SuggestChanges, uow: UnitOfWork) -> list[str]:
    """Return up to 25 items as an outline writes them; none where build or level are not there."""
    view = await _newest(cmd, uow)
    if isinstance(view, Refused) or level_refusal(view.build, cmd.level) is not None:
        return []
    offered = additions if cmd.adding else _removals
    texts = await asyncio.to_thread(offered, _Keyed(view.build), cmd.level, view.catalog)
    wanted = fold(cmd.text)
    starting = [text for text in texts if fold(text).startswith(wanted)]
    holding = [text for text in texts if wanted in fold(text) and text not in starting]
    return (starting + holding)[:_SUGGESTED]


class _Keyed:
    """A build that is equal to another by its canonical text, so that what was worked out for it can be kept."""

    def __init__(self, build: Build) -> None:
        self.build = build
        self._key = canonical(build)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Keyed) and other._key == self._key

    def __hash__(self) -> int:
        return hash(self._key)


def _removals(keyed: _Keyed, level: int, catalog: Catalog) -> tuple[str, ...]:
    return tuple(texts_of(keyed.build, level, catalog))


@lru_cache(maxsize=64)
def additions(keyed: _Keyed, level: int, catalog: Catalog) -> tuple[str, ...]:
    """Return what may be put on a level's line under the keywords that stand there or are open there.

    Kept for a while, since an autocomplete asks again with every letter.
    """
    build = keyed.build
    _, _, line = place_of(build, level)
    keywords = [choice.keyword for choice in open_choices(build, catalog, level) if choice.level == level]
    keywords += ["subclass"] if line.subclass is not None else []
    for item in line.items:
        if isinstance(item, Choose):
            keywords.append(item.keyword)
        elif isinstance(item, Increase):
            keywords.append("increase")
    found: list[str] = []
    for keyword in dict.fromkeys(keywords):
        if keyword == "increase":
            found += [f"+{amount} {ability.title()}" for amount in (2, 1) for ability in ABILITIES]
            found += [
                choose_text(build, level, "feat", n.id, catalog) for n in legal_picks(build, catalog, level, "feat")
            ]
        else:
            found += [
                choose_text(build, level, keyword, n.id, catalog) for n in legal_picks(build, catalog, level, keyword)
            ]
    return tuple(dict.fromkeys(found))


async def _side(cmd: CompareBuilds, uow: UnitOfWork, ref: Ref, revision: int | None) -> BuildView | Refused:
    row = await find_build(uow, cmd.server, cmd.member, ref)
    return row if isinstance(row, Refused) else await build_view(uow, row, revision)


async def _newest(cmd: SeeOpenChoices | SuggestChanges, uow: UnitOfWork) -> BuildView | Refused:
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        return row if isinstance(row, Refused) else await build_view(uow, row)
