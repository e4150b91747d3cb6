"""Where live cards stand: posting, redrawing in place, posting anew, and the threads that hang on them."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import discord

from bot.exts.builds import cards as build_cards
from bot.exts.proposals import cards
from bot.log import log
from bot.ui.answer import answer, refuse
from bot.ui.card import NO_MENTIONS, Card, CardView
from bot.ui.escape import label, paragraph
from engine.problem import Refused
from engine.services.builds import ShowBuild, show_build
from engine.services.cards import CardsOf, MarkCard, RememberCard, cards_of, mark_card, remember_card
from engine.services.proposals import ShowProposal, show_proposal
from engine.services.views import CardPlace, ProposalView, RemarkView

if TYPE_CHECKING:
    from bot.client import Bot

# The bot itself asks for what it redraws; it is no member, so it sees what every member sees.
ANYONE = 0


async def live_card(bot: "Bot", server: int, subject: int) -> tuple[Card, str] | None:
    """Return the card of a shared build or a proposal as everybody sees it, and its title; None if it is gone."""
    from bot.exts.builds.buttons import build_rows
    from bot.exts.proposals.buttons import proposal_rows

    view = await bot.call(show_proposal, ShowProposal(server=server, member=ANYONE, proposal=subject))
    if isinstance(view, ProposalView):
        return cards.proposal_card(view).with_rows(*proposal_rows(view)), f"#{view.number} {view.title}"
    shown = await bot.call(show_build, ShowBuild(server=server, member=ANYONE, build=subject))
    if isinstance(shown, Refused):
        return None
    card = build_cards.build_card(shown).with_rows(*build_rows(shown))
    return card, f"#{shown.view.number} {shown.view.name}"


def missing_permissions(interaction: discord.Interaction[Any]) -> Refused | None:
    """Return what the bot may not do in this channel, in words, or None if it can post a card here."""
    allowed = interaction.app_permissions
    needed = {"View Channel": allowed.view_channel, "Send Messages": allowed.send_messages}
    if isinstance(interaction.channel, discord.Thread):
        needed = {"View Channel": allowed.view_channel, "Send Messages in Threads": allowed.send_messages_in_threads}
    lacking = [name for name, there in needed.items() if not there]
    if not lacking:
        return None
    return Refused(
        "bot-may-not-post",
        f"I may not post a card here: I lack {' and '.join(lacking)} in this channel. Somebody who manages the "
        "channel can switch that on; nothing was changed.",
    )


async def post_card(
    bot: "Bot", server: int, channel_id: int, subject: int, replaces: int | None = None
) -> CardPlace | None:
    """Post a live card as a message of a text channel, or as its own post of a forum, and store where it stands."""
    drawn = await live_card(bot, server, subject)
    channel = bot.get_channel(channel_id)
    if drawn is None or channel is None:
        return None
    card, title = drawn
    if isinstance(channel, discord.ForumChannel):
        made = await channel.create_thread(name=label(title, 100), view=CardView(card), allowed_mentions=NO_MENTIONS)
        place, message, thread = made.thread.id, made.message.id, made.thread.id
    elif isinstance(channel, discord.abc.Messageable):
        sent = await channel.send(view=CardView(card), allowed_mentions=NO_MENTIONS)
        place, message, thread = channel_id, sent.id, None
    else:
        return None
    command = RememberCard(
        server=server, subject=subject, channel=place, message=message, thread=thread, replaces=replaces
    )
    stored = await bot.call(remember_card, command)
    return None if isinstance(stored, Refused) else stored


async def repost(bot: "Bot", server: int, channel_id: int, places: Sequence[CardPlace]) -> int:
    """Post cards anew in a channel in the place of their lost messages; return how many."""
    posted = 0
    for place in sorted(places, key=lambda p: p.subject):
        if await post_card(bot, server, channel_id, place.subject, replaces=place.message):
            posted += 1
    return posted


async def redraw_all(bot: "Bot", server: int, subjects: Iterable[int]) -> None:
    """Draw the cards of some builds and proposals anew where they stand; one that cannot be is marked stale."""
    for subject in dict.fromkeys(subjects):
        places = await bot.call(cards_of, CardsOf(server=server, subject=subject))
        if not places:
            continue
        drawn = await live_card(bot, server, subject)
        for place in places:
            await _redraw_one(bot, server, place, drawn[0] if drawn else None)


async def _redraw_one(bot: "Bot", server: int, place: CardPlace, card: Card | None) -> None:
    message = bot.get_partial_messageable(place.channel, guild_id=server).get_partial_message(place.message)
    gone = Card("Removed", "What stood here is no longer on this server.")
    try:
        await message.edit(view=CardView(card or gone), allowed_mentions=NO_MENTIONS)
    except discord.HTTPException as error:
        log.warning("card of %s not redrawn: %s", place.subject, error.status)
        await bot.call(mark_card, MarkCard(server=server, message=place.message, stale=True))


async def answer_with_live_card(interaction: "discord.Interaction[Bot]", subject: int) -> None:
    """Answer a command publicly with a live card and store where it stands."""
    assert interaction.guild_id is not None
    assert interaction.channel_id is not None
    drawn = await live_card(interaction.client, interaction.guild_id, subject)
    if drawn is None:
        await answer(interaction, f"#{subject} is not on this server any more.")
        return
    sent = await interaction.response.send_message(view=CardView(drawn[0]), allowed_mentions=NO_MENTIONS)
    if sent.message_id is not None:
        command = RememberCard(
            server=interaction.guild_id, subject=subject, channel=interaction.channel_id, message=sent.message_id
        )
        await interaction.client.call(remember_card, command)


async def thread_of(bot: "Bot", server: int, place: CardPlace, title: str) -> discord.abc.Messageable | None:
    """Return the thread that hangs on a card, made if there is none yet; None where none can be."""
    if place.thread is not None:
        return bot.get_partial_messageable(place.thread, guild_id=server)
    channel = bot.get_channel(place.channel)
    if not isinstance(channel, discord.TextChannel):
        return bot.get_partial_messageable(place.channel, guild_id=server)
    thread = await channel.get_partial_message(place.message).create_thread(name=label(title, 100))
    command = RememberCard(
        server=server,
        subject=place.subject,
        channel=place.channel,
        message=place.message,
        thread=thread.id,
        replaces=place.message,
    )
    await bot.call(remember_card, command)
    return thread


async def post_remark(interaction: "discord.Interaction[Bot]", remark: RemarkView) -> None:
    """Tell the member the remark is kept, post it in the thread of the newest card, redraw the cards."""
    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    await interaction.response.defer(ephemeral=True, thinking=True)
    sentence = f"Your remark on #{remark.subject} is kept."
    for place in remark.cards[-1:]:
        try:
            thread = await thread_of(bot, server, place, f"#{remark.subject} {remark.title}")
            if thread is not None:
                where = f" on level {remark.level}" if remark.level else ""
                text = f"<@{remark.author}> remarks{where}:\n{paragraph(remark.text)}"
                await thread.send(text[:2000], allowed_mentions=NO_MENTIONS)
        except discord.HTTPException as error:
            log.warning("remark on %s not posted in a thread: %s", remark.subject, error.status)
            sentence += (
                " I could not post it in the card's thread: I need Create Public Threads and Send Messages in "
                "Threads in this channel; the card and /proposal show have it."
            )
    await redraw_all(bot, server, [remark.subject])
    await interaction.followup.send(sentence, ephemeral=True, allowed_mentions=NO_MENTIONS)


async def refuse_or(interaction: discord.Interaction[Any], trouble: Refused | None) -> bool:
    """Refuse privately if there is trouble; return whether there was."""
    if trouble is None:
        return False
    await refuse(interaction, trouble)
    return True
