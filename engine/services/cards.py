"""Where cards stand in chat, so that they can be redrawn when their subject changes."""

from dataclasses import dataclass

from engine.problem import Refused
from engine.services.views import CardPlace
from engine.services.views_of import card_place
from engine.store.models import Card
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class RememberCard:
    """Note where a card stands, or that its thread was made. subject: number of a build, proposal or submission.

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
    """Ask for every card of the server whose subject can still change: builds in use, open proposals, submissions."""

    server: int


async def remember_card(cmd: RememberCard, uow: UnitOfWork) -> CardPlace | Refused:
    """Store where a card stands now. Refused: "no-such-subject" for a number that the server gave to nothing."""
    async with uow:
        await uow.people.ensure(cmd.server)
        if (
            await uow.builds.get(cmd.server, cmd.subject) is None
            and await uow.proposals.get(cmd.server, cmd.subject) is None
            and await uow.submissions.get(cmd.server, cmd.subject) is None
        ):
            return Refused("no-such-subject", f"There is no build or proposal #{cmd.subject} on this server.")
        if cmd.replaces is not None and cmd.replaces != cmd.message:
            await uow.cards.drop(cmd.server, cmd.replaces)
        card = Card(
            server=cmd.server,
            message=cmd.message,
            subject=cmd.subject,
            channel=cmd.channel,
            thread=cmd.thread,
            stale=False,
        )
        await uow.cards.put(card)
        await uow.commit()
    return card_place(card)


async def cards_of(cmd: CardsOf, uow: UnitOfWork) -> list[CardPlace]:
    """Return the cards of a build, proposal or submission, oldest first; none where there are none.

    What a build is, the card of its submission says too, so that one comes along.
    """
    async with uow.reading():
        found = await uow.cards.of(cmd.server, cmd.subject)
        submitted = await uow.submissions.of_build(cmd.server, cmd.subject)
        if submitted is not None:
            found += await uow.cards.of(cmd.server, submitted.number)
    return [card_place(card) for card in found]


async def mark_card(cmd: MarkCard, uow: UnitOfWork) -> None:
    """Store whether a card is out of date; a card that is not known is left alone."""
    async with uow:
        card = await uow.cards.get(cmd.server, cmd.message)
        if card is not None:
            card.stale = cmd.stale
            await uow.commit()


async def forget_card(cmd: ForgetCard, uow: UnitOfWork) -> None:
    """Forget a card; one that is not known is left alone."""
    async with uow:
        await uow.cards.drop(cmd.server, cmd.message)
        await uow.commit()


async def live_cards(cmd: LiveCards, uow: UnitOfWork) -> list[CardPlace]:
    """Return the cards whose subject can still change, by subject."""
    async with uow.reading():
        return [card_place(card) for card in await uow.cards.live(cmd.server)]
