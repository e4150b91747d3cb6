"""Facts of the rules content that a server plays by: one thing looked up, names offered while they are typed."""

import asyncio
from dataclasses import dataclass

from engine.problem import Refused
from engine.publish.facts import Facts, facts_of
from engine.rules.catalog import Catalog
from engine.rules.index import FOUND_KINDS, index_of
from engine.services.shelves import catalog_to_look_up
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class FindFact:
    """Ask for the facts of one thing. name: as people write it, or an address that `SuggestFacts` gave.

    kind: one of `engine.rules.index.FOUND_KINDS`, None for any.
    """

    server: int
    member: int
    name: str
    kind: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestFacts:
    """Ask for up to 25 things whose name holds the text. kind: as in `FindFact`."""

    server: int
    member: int
    text: str = ""
    kind: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCatalog:
    """Ask for everything that a server plays by: the rules release and the folios that are on for the whole server."""

    server: int
    member: int


@dataclass(frozen=True, slots=True)
class FactView:
    """Facts of one thing. others: labels of what else has the same name, such as a feature of another class."""

    facts: Facts
    others: tuple[str, ...] = ()


async def open_catalog(cmd: OpenCatalog, uow: UnitOfWork) -> Catalog:
    """Return the catalogue in which names are looked up and offered on a server where no build is at hand."""
    async with uow.reading():
        return await catalog_to_look_up(uow, cmd.server)


async def find_fact(cmd: FindFact, uow: UnitOfWork) -> FactView | Refused:
    """Return the facts of a thing of the rules, or of a folio that is on for the server.

    Refused: "no-such-kind", "no-such-fact" with the nearest names.
    """
    if cmd.kind is not None and cmd.kind not in FOUND_KINDS:
        return Refused("no-such-kind", f'"{_short(cmd.kind)}" is no kind of thing; choose {", ".join(FOUND_KINDS)}.')
    async with uow.reading():
        catalog = await catalog_to_look_up(uow, cmd.server)
    index = await asyncio.to_thread(index_of, catalog)
    found = index.find(cmd.name, cmd.kind)
    if not found:
        near = index.suggest(cmd.name[:100], cmd.kind)
        what = cmd.kind or "thing of the rules"
        hint = f" Nearest: {', '.join(near)}." if near else " Pick a name from the list that opens while you type."
        return Refused("no-such-fact", f'No {what} is called "{_short(cmd.name)}".{hint}')
    return FactView(facts_of(found[0].named, catalog), tuple(each.label for each in found[1:]))


async def suggest_facts(cmd: SuggestFacts, uow: UnitOfWork) -> list[tuple[str, str]]:
    """Return up to 25 things as (address to send, label)."""
    async with uow.reading():
        catalog = await catalog_to_look_up(uow, cmd.server)
    index = await asyncio.to_thread(index_of, catalog)
    return [(each.address, each.label) for each in index.offer(cmd.text[:100], cmd.kind)]


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:59] + "…"
