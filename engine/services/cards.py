"""Where cards stand in chat, so that they can be redrawn when their subject changes."""

from dataclasses import dataclass

from engine.problem import Refused
from engine.services.views import CardPlace
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class RememberCard:
    """Note where a card stands, or that its thread was made. subject: number of a build or proposal.

    replaces: message id of an older card of the subject that this one takes the place of.
    """

    server: int
    subject: int
    channel: int
    message: int
    thread: int | None = None
    replaces: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CardsOf:
    """Ask where the cards of a build or proposal stand."""

    server: int
    subject: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkCard:
    """Note that a card could not be redrawn (stale), or was redrawn after all."""

    server: int
    message: int
    stale: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ForgetCard:
    """Note that a card's message is gone."""

    server: int
    message: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveCards:
    """Ask for every card of the server whose subject can still change: builds in use and open proposals."""

    server: int


async def remember_card(cmd: RememberCard, uow: UnitOfWork) -> CardPlace | Refused: ...
async def cards_of(cmd: CardsOf, uow: UnitOfWork) -> list[CardPlace]: ...
async def mark_card(cmd: MarkCard, uow: UnitOfWork) -> None: ...
async def forget_card(cmd: ForgetCard, uow: UnitOfWork) -> None: ...
async def live_cards(cmd: LiveCards, uow: UnitOfWork) -> list[CardPlace]: ...
