"""Witnessed rolls: real random numbers, stored with who rolled them and when, so that anybody can look them up.

The numbers come from the operating system. Nothing takes a roll back: rolling again makes a second roll that says so.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Literal

from engine.audit.context import Rolls
from engine.build.document import Build
from engine.odds.notation import Changed, Dice, Expression, Node, Sum, parse
from engine.odds.rolling import Die, Rolled, RolledTerm, roll
from engine.problem import Refused
from engine.rules.names import fold
from engine.services import library, rights
from engine.services.find import find_build
from engine.services.names import number_of
from engine.services.pages import page_number, paged
from engine.services.texts import level_refusal
from engine.services.views import Page, Ref
from engine.services.views_of import document_at
from engine.store.models import BuildRow, RollRow
from engine.store.uow import UnitOfWork

Kind = Literal["dice", "scores", "hp"]
MOST_DICE: Final = 100
SCORES: Final = 6
LONGEST_PURPOSE: Final = 100
_PAGE: Final = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class RollDice:
    """Roll any dice. purpose: what for, in the member's words."""

    server: int
    member: int
    dice: str
    at: datetime
    purpose: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RollScores:
    """Roll six ability scores the way the release names."""

    server: int
    member: int
    at: datetime
    purpose: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RollHp:
    """Roll the hit die of a level of one's own build."""

    server: int
    member: int
    build: Ref
    level: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowRoll:
    """Look a roll up by its number."""

    server: int
    member: int
    roll: Ref


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRolls:
    """Ask for a page of the server's rolls, newest first. roller: only those of this member."""

    server: int
    member: int
    roller: int | None = None
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class RollView:
    """A roll. dice: notation of each result. results: what came up, result by result; six for scores.

    earlier: numbers of earlier rolls by the same member for the same purpose (or for the same level of the build), so
    that a second one is seen as such. build, level, build_name: of a hit-point roll; the name only if everybody may see
    the build. serves: number of the shared build whose scores cite it.
    """

    number: int
    kind: Kind
    member: int
    at: datetime
    dice: str
    results: tuple[Rolled, ...]
    purpose: str = ""
    earlier: tuple[int, ...] = ()
    build: int | None = None
    build_name: str | None = None
    level: int | None = None
    serves: int | None = None

    @property
    def values(self) -> tuple[int, ...]:
        """The totals, in the order rolled."""
        return tuple(result.total for result in self.results)


async def roll_dice(cmd: RollDice, uow: UnitOfWork) -> RollView | Refused:
    """Roll dice and store the roll. Refused: dice that are not understood, more than 100 of them."""
    dice = parse(cmd.dice)
    if isinstance(dice, Refused):
        return dice
    number = sum(_dice_in(dice.node))
    if number > MOST_DICE:
        return Refused(
            "too-many-dice", f"That is {number} dice; at most {MOST_DICE} are rolled at once. /odds dice takes more."
        )
    return await _stored(uow, cmd.server, cmd.member, cmd.at, "dice", dice, 1, purpose=cmd.purpose)


async def roll_scores(cmd: RollScores, uow: UnitOfWork) -> RollView | Refused:
    """Roll six scores and store the roll, which an outline can cite as `rolled #NUMBER`.

    Source of the way of rolling: the rules release's own data; SRD 5.1 prints none, so common practice.
    """
    dice = parse(library.catalog().release.scores.roll)
    if isinstance(dice, Refused):
        raise AssertionError(dice.sentence)  # the release's own data; a test reads it
    return await _stored(uow, cmd.server, cmd.member, cmd.at, "scores", dice, SCORES, purpose=cmd.purpose)


async def roll_hp(cmd: RollHp, uow: UnitOfWork) -> RollView | Refused:
    """Roll the hit die of a level and store the roll, which that level can cite as `hp N #NUMBER`.

    Refused: as `find_build`, "not-allowed", "no-such-level", "first-level" (it takes the whole die).
    Source: SRD 5.1, Beyond 1st Level (Hit Points at Higher Levels).
    """
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(row, Refused):
            return row
        found = await document_at(uow, row, None)
        coauthors = await uow.builds.coauthors(row.server, row.number)
    if isinstance(found, Refused):
        return found
    refused = rights.refusal(RollHp, rights.roles_on_build(cmd.member, row.author, coauthors))
    if refused is not None:
        return refused
    _, build, catalog = found
    refused = level_refusal(build, cmd.level)
    if refused is not None:
        return refused
    if cmd.level == 1:
        return Refused("first-level", "Level 1 takes the highest number of the hit die; roll for a level from 2 on.")
    class_id = build.order[cmd.level - 1]
    content = catalog.class_(class_id)
    if content is None:
        return Refused("missing-content", f"No folio here has the class of level {cmd.level}, so its die is not known.")
    dice = parse(f"1d{content.hit_die}")
    if isinstance(dice, Refused):
        raise AssertionError(dice.sentence)
    return await _stored(
        uow, cmd.server, cmd.member, cmd.at, "hp", dice, 1, purpose=content.name, build=row, level=cmd.level
    )


async def show_roll(cmd: ShowRoll, uow: UnitOfWork) -> RollView | Refused:
    """Return a roll, whoever made it. Refused: "no-such-roll"."""
    number = number_of(cmd.roll)
    if number is None:
        return Refused("no-such-roll", f'"{str(cmd.roll)[:60]}" is no roll; name one by its number, such as #12.')
    async with uow.reading():
        row = await uow.rolls.get(cmd.server, number)
        if row is None:
            return Refused(
                "no-such-roll", f"There is no roll #{number} on this server; /roll list shows those there are."
            )
        return await _view(uow, row)


async def list_rolls(cmd: ListRolls, uow: UnitOfWork) -> Page[RollView]:
    """Return a page of rolls; an empty one where there are none."""
    number = page_number(cmd.page)
    async with uow.reading():
        rows = await uow.rolls.page(cmd.server, member=cmd.roller, limit=_PAGE + 1, offset=(number - 1) * _PAGE)
        views = [await _view(uow, row) for row in rows]
    return paged(views, number, _PAGE)


async def witnessed(uow: UnitOfWork, server: int, number: int | None, *builds: Build) -> Rolls:
    """Return inside a block the rolls that documents of one build cite, as the audit takes them: number -> values.

    A hit-point roll is there only if it was made for that level of that build and is cited once in a document. A score
    roll that serves another living build is not there. number: of the build, None before it has one. Without citations
    the store is not asked.
    """
    wanted = {cited for build in builds for cited, _ in _citations(build)}
    if not wanted:
        return {}
    rows = {row.number: row for row in await uow.rolls.numbered(server, wanted)}
    found: dict[int, tuple[int, ...]] = {}
    for build in builds:
        cited = list(_citations(build))
        for roll_number, level in cited:
            row = rows.get(roll_number)
            if row is None or sum(other == roll_number for other, _ in cited) > 1:
                continue
            fits = row.kind == "scores" if level is None else (row.kind, row.build, row.level) == ("hp", number, level)
            if fits and await _other_holder(uow, row, number) is None:
                found[roll_number] = tuple(int(result["total"]) for result in row.results)
    return found


async def claim_scores(uow: UnitOfWork, server: int, number: int, build: Build) -> Refused | None:
    """Note inside a writing block that a build's scores cite a roll; one score roll serves one living build.

    Nothing happens where none is cited, or one that is not there (the audit says so). Refused: "roll-in-use".
    """
    cited = build.scores.roll if build.scores is not None else None
    row = await uow.rolls.get(server, cited, for_update=True) if cited is not None else None
    if row is None or row.kind != "scores" or row.serves == number:
        return None
    other = await _other_holder(uow, row, number)
    if other is not None:
        whose = f"{other.name} (#{other.number})" if other.shared else "another build"
        return Refused(
            "roll-in-use",
            f"Score roll #{row.number} serves {whose} already, and one roll serves one build;"
            " roll anew with /roll scores, or name another way of making the scores.",
        )
    row.serves = number
    return None


async def _other_holder(uow: UnitOfWork, row: RollRow, number: int | None) -> BuildRow | None:
    """Return another living build whose newest revision still cites a score roll."""
    if row.kind != "scores" or row.serves is None or row.serves == number:
        return None
    other = await uow.builds.get(row.server, row.serves)
    if other is None or other.removed:
        return None
    found = await document_at(uow, other, None)
    if isinstance(found, Refused):
        return other
    scores = found[1].scores
    return other if scores is not None and scores.roll == row.number else None


def _citations(build: Build) -> Iterator[tuple[int, int | None]]:
    """Yield the rolls that a document cites: (number, level of a hit-point roll or None for the scores)."""
    if build.scores is not None and build.scores.roll is not None:
        yield build.scores.roll, None
    for level, _, _, line in build.lines():
        if line.roll is not None:
            yield line.roll, level


async def _stored(
    uow: UnitOfWork,
    server: int,
    member: int,
    at: datetime,
    kind: Kind,
    dice: Expression,
    times: int,
    *,
    purpose: str,
    build: BuildRow | None = None,
    level: int | None = None,
) -> RollView:
    """Roll and store: first the number is taken, then the dice fall, so that no result is seen without being kept."""
    words = " ".join(purpose.split())[:LONGEST_PURPOSE]
    async with uow:
        await uow.people.ensure(server, member)
        row = RollRow(
            server=server,
            number=await uow.people.next_number(server),
            kind=kind,
            member=member,
            at=at,
            dice=str(dice),
            results=[_plain(roll(dice, _draw)) for _ in range(times)],
            purpose=words,
            purpose_key=fold(words),
            build=build.number if build is not None else None,
            level=level,
        )
        await uow.rolls.add(row)
        if build is not None:
            uow.history.append(
                server,
                build.number,
                "build",
                "hit-points-rolled",
                actor=member,
                at=at,
                data={"roll": row.number, "level": level, "value": row.results[0]["total"]},
            )
        view = await _view(uow, row)
        await uow.commit()
    return view


def _draw(sides: int) -> int:
    """Draw one face by the random numbers of the operating system."""
    return 1 + secrets.randbelow(sides)


def _plain(rolled: Rolled) -> dict[str, Any]:
    """Return a result as it is stored: `{"total", "terms": [{"dice", "faces": [[face, counts, before or null]]}]}`."""
    terms = [
        {
            "dice": term.dice,
            "total": term.total,
            "faces": [[die.face, int(die.counts), die.before] for die in term.faces],
        }
        for term in rolled.terms
    ]
    return {"total": rolled.total, "terms": terms}


def _rolled(dice: str, stored: dict[str, Any]) -> Rolled:
    terms = tuple(
        RolledTerm(
            dice=term["dice"],
            total=term["total"],
            faces=tuple(Die(face=face, counts=bool(counts), before=before) for face, counts, before in term["faces"]),
        )
        for term in stored["terms"]
    )
    return Rolled(dice=dice, total=stored["total"], terms=terms)


async def _view(uow: UnitOfWork, row: RollRow) -> RollView:
    named = await uow.builds.get(row.server, row.build) if row.build is not None else None
    served = await uow.builds.get(row.server, row.serves) if row.serves is not None else None
    kind: Kind = "hp" if row.kind == "hp" else "scores" if row.kind == "scores" else "dice"
    return RollView(
        number=row.number,
        kind=kind,
        member=row.member,
        at=row.at,
        dice=row.dice,
        results=tuple(_rolled(row.dice, result) for result in row.results),
        purpose=row.purpose,
        # Plain dice are rolled again all the time; only what a build can cite is counted.
        earlier=tuple(await uow.rolls.earlier(row)) if kind != "dice" else (),
        build=row.build,
        build_name=named.name if named is not None and named.shared else None,
        level=row.level,
        serves=served.number if served is not None and served.shared and not served.removed else None,
    )


def _dice_in(node: Node) -> Iterator[int]:
    """Yield how many dice each term of an expression rolls."""
    match node:
        case Dice():
            yield 2 if node.twice else node.count
        case Changed(inner, _):
            yield from _dice_in(inner)
        case Sum(parts):
            for _, part in parts:
                yield from _dice_in(part)
