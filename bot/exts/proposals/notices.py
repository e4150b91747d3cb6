"""Notices: new messages in the thread of a card, which ping exactly those whom the service chose."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import discord

from bot.exts.proposals.posting import lacks_threads, say
from bot.log import log
from bot.ui.answer import answer
from bot.ui.escape import plain
from bot.ui.who import who
from engine.services.cards import CardsOf, cards_of
from engine.services.views import Notice, NoticeKind

if TYPE_CHECKING:
    from bot.client import Bot

WORDS: Final[dict[NoticeKind, str]] = {
    "proposed": "a change to your build is proposed",
    "amended": "the proposal was amended by its proposer",
    "adopted": "the proposal was adopted",
    "declined": "the proposal was declined",
    "withdrawn": "the proposal was withdrawn",
    "lapsed": "the proposal lapsed at its deadline",
    "outdated": "the build changed in the same place, so the proposal is outdated; /proposal refresh fits it anew",
    "refreshed": "the proposal was fitted to the build as it is now; your vote was cleared, please vote again",
    "refitted": "the outdated proposal was fitted to the build as it is now",
    "reminded": "this closes soon",
    "remarked": "your remark was answered",
    "handed-over": "the build is yours now",
    "submitted": "the build waits for you, its GM, to look at it",
    "approved": "your build is approved for play",
    "returned": "your build was returned by the GM; the card has the remarks",
    "co-author": "you are a co-author of the build now: you can edit it and decide about proposals",
}


async def tell(
    bot: "Bot", server: int, notices: Iterable[Notice], interaction: discord.Interaction[Any] | None = None
) -> None:
    """Post notices where the cards of their subjects stand; one that cannot be posted is logged, nothing fails.

    interaction: of the member whose act it was, who is told privately what the bot lacks to tell others of it.
    """
    barred: list[int] = []
    for notice in notices:
        places = await bot.call(cards_of, CardsOf(server=server, subject=notice.subject))
        if not places:
            continue
        mentions = " ".join(who(member) for member in notice.told)
        text = f"{mentions} #{notice.subject} {plain(notice.title)}: {WORDS[notice.kind]}."
        allowed = discord.AllowedMentions(
            everyone=False,
            roles=False,
            replied_user=False,
            users=[discord.Object(member) for member in notice.told],
        )
        try:
            await say(bot, server, places[-1], f"#{notice.subject} {notice.title}", text[:1900], allowed)
        except discord.Forbidden:
            log.warning("notice on %s not posted: the bot may not", notice.subject)
            barred.append(places[-1].channel)
        except discord.HTTPException as error:
            log.warning("notice on %s not posted: %s", notice.subject, error.status)
    if barred and interaction is not None:
        await answer(interaction, f"That is done, but nobody is told of it: {lacks_threads(barred[0])}.")
