"""Where live cards stand: posting, redrawing in place, posting anew, and the threads that hang on them."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import discord

from bot.exts.builds import cards as build_cards
from bot.exts.proposals import cards
from bot.log import log
from bot.ui.answer import answer, refuse
from bot.ui.card import NO_MENTIONS, Card, CardView
from bot.ui.escape import label, paragraph, plain
from bot.ui.who import who
from engine.problem import Refused
from engine.services.approvals import ShowSubmission, show_submission
from engine.services.builds import ShowBuild, show_build
from engine.services.cards import (
    CardsOf,
    ForgetCard,
    MarkCard,
    RememberCard,
    cards_of,
    forget_card,
    mark_card,
    remember_card,
)
from engine.services.policies import ShowPolicy, show_policy
from engine.services.proposals import ShowProposal, show_proposal
from engine.services.views import CardPlace, ProposalView, RemarkView

if TYPE_CHECKING:
    from bot.client import Bot

# The bot itself asks for what it redraws; it is no member, so it sees what every member sees.
ANYONE = 0


async def live_card(bot: "Bot", server: int, subject: int) -> tuple[Card, str] | None:
    """Return the card of a shared build, a proposal or a submission as everybody sees it, and its title.

    None if it is gone.
    """
    from bot.exts.builds.buttons import build_rows
    from bot.exts.proposals.buttons import proposal_rows
    from bot.exts.table.buttons import submission_rows
    from bot.exts.table.cards import submission_card

    view = await bot.call(show_proposal, ShowProposal(server=server, member=ANYONE, proposal=subject))
    if isinstance(view, ProposalView):
        return cards.proposal_card(view).with_rows(*proposal_rows(view)), f"#{view.number} {view.title}"
    shown = await bot.call(show_build, ShowBuild(server=server, member=ANYONE, build=subject))
    if isinstance(shown, Refused):
        submitted = await bot.call(show_submission, ShowSubmission(server=server, member=ANYONE, subject=subject))
        if isinstance(submitted, Refused):
            return None
        card = submission_card(submitted).with_rows(*submission_rows(submitted))
        return card, f"#{submitted.number} {submitted.shown.view.name} at {submitted.table_name}"
    card = build_cards.build_card(shown).with_rows(*build_rows(shown))
    return card, f"#{shown.view.number} {shown.view.name}"


def missing_permissions(interaction: discord.Interaction[Any]) -> Refused | None:
    """Return what the bot may not do in this channel, in words, or None if it can post a card here."""
    in_thread = isinstance(interaction.channel, discord.Thread)
    return _lacking(interaction.app_permissions, "this channel", in_thread=in_thread)


def _lacking(allowed: discord.Permissions, where: str, *, in_thread: bool = False) -> Refused | None:
    needed = {"View Channel": allowed.view_channel}
    if in_thread:
        needed["Send Messages in Threads"] = allowed.send_messages_in_threads
    else:
        needed["Send Messages"] = allowed.send_messages
    lacking = [name for name, there in needed.items() if not there]
    if not lacking:
        return None
    return Refused(
        "bot-may-not-post",
        f"I may not post a card in {where}: I lack {' and '.join(lacking)} there. Somebody who manages that "
        "channel can switch it on under Edit Channel, Permissions; nothing was changed.",
    )


async def chosen_place(interaction: "discord.Interaction[Bot]") -> int | Refused:
    """Return the channel where a new card goes: the one that the server chose, else the one of the command.

    Refused: "bot-may-not-post", naming what to switch on and where.
    """
    assert interaction.guild_id is not None
    assert interaction.channel_id is not None
    settings = await interaction.client.call(
        show_policy, ShowPolicy(server=interaction.guild_id, member=interaction.user.id)
    )
    channel = None if settings.place is None else interaction.client.get_channel(settings.place)
    if not isinstance(channel, discord.TextChannel | discord.ForumChannel):
        # Nothing chosen, or the chosen channel was deleted.
        return missing_permissions(interaction) or interaction.channel_id
    return _lacking(channel.permissions_for(channel.guild.me), channel.mention) or channel.id


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
    """Draw the cards of some builds and proposals anew where they stand; one that cannot be is marked stale.

    A card that is being drawn already is drawn once more after that, however often it is asked for meanwhile.
    """
    for subject in dict.fromkeys(subjects):
        await bot.drawing.run((server, subject), partial(_redraw, bot, server, subject, None))


async def redraw_others(bot: "Bot", server: int, subject: int, message: int | None) -> None:
    """Draw the other cards of a subject anew after a press on one of them, which is known to be drawn."""
    await _redraw(bot, server, subject, message)


async def _redraw(bot: "Bot", server: int, subject: int, but: int | None) -> None:
    places = await bot.call(cards_of, CardsOf(server=server, subject=subject))
    fresh = [place for place in places if place.message == but and place.stale]
    for place in fresh:
        await bot.call(mark_card, MarkCard(server=server, message=place.message, stale=False))
    places = [place for place in places if place.message != but]
    if not places:
        return
    # The card of a build's submission stands among those of the build, and shows something else.
    drawn = {each: await live_card(bot, server, each) for each in dict.fromkeys(place.subject for place in places)}
    for place in places:
        card = drawn[place.subject]
        await _redraw_one(bot, server, place, card[0] if card else None)


async def _redraw_one(bot: "Bot", server: int, place: CardPlace, card: Card | None) -> None:
    message = bot.get_partial_messageable(place.channel, guild_id=server).get_partial_message(place.message)
    gone = Card("Removed", "What stood here is no longer on this server.")
    try:
        await message.edit(view=CardView(card or gone), allowed_mentions=NO_MENTIONS)
    except discord.NotFound:
        # Somebody deleted it; /proposal show and /build share post it again.
        await bot.call(forget_card, ForgetCard(server=server, message=place.message))
    except discord.HTTPException as error:
        log.warning("card of %s not redrawn: %s", place.subject, error.status)
        await bot.call(mark_card, MarkCard(server=server, message=place.message, stale=True))
    else:
        if place.stale:
            await bot.call(mark_card, MarkCard(server=server, message=place.message, stale=False))


async def answer_with_live_card(interaction: "discord.Interaction[Bot]", subject: int) -> None:
    """Answer a command publicly with a live card and store where it stands."""
    assert interaction.guild_id is not None
    assert interaction.channel_id is not None
    place = await chosen_place(interaction)
    if isinstance(place, Refused):
        await refuse(interaction, place)
        return
    if place != interaction.channel_id:
        await interaction.response.defer(ephemeral=True, thinking=True)
        posted = await post_card(interaction.client, interaction.guild_id, place, subject)
        where = f"in <#{posted.channel}>" if posted else "nowhere: it is not on this server any more"
        await interaction.followup.send(f"The card of #{subject} stands {where}.", ephemeral=True)
        return
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


async def say(
    bot: "Bot", server: int, place: CardPlace, title: str, text: str, allowed: discord.AllowedMentions
) -> None:
    """Post a message in the thread of a card; a thread that was deleted is made anew.

    Raises: discord.HTTPException if the bot may not, or the card is gone.
    """
    thread = await thread_of(bot, server, place, title)
    if thread is None:
        return
    try:
        await thread.send(text, allowed_mentions=allowed)
    except discord.NotFound:
        if place.thread is None or place.thread == place.channel:
            raise
        anew = await thread_of(bot, server, replace(place, thread=None), title)
        if anew is not None:
            await anew.send(text, allowed_mentions=allowed)


def lacks_threads(channel: int) -> str:
    """Return what the bot lacks to write in the threads of a channel, and who can mend it, without a full stop."""
    return (
        f"I need Create Public Threads and Send Messages in Threads in <#{channel}>; somebody who manages that channel "
        "can switch them on under Edit Channel, Permissions"
    )


async def post_remark(interaction: "discord.Interaction[Bot]", remark: RemarkView) -> None:
    """Tell the member the remark is kept, post it in the thread of the newest card, redraw the cards."""
    from bot.exts.proposals.notices import tell

    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    await interaction.response.defer(ephemeral=True, thinking=True)
    sentence = f"Your remark on #{remark.subject} is kept."
    for place in remark.cards[-1:]:
        try:
            about = [f"level {remark.level}"] if remark.level else []
            about += [plain(remark.number)] if remark.number else []
            where = f" on {', '.join(about)}" if about else ""
            what = f"answers remark {remark.answers}" if remark.answers else "remarks"
            text = f"{who(remark.author)} {what}{where}:\n{paragraph(remark.text)}\n-# remark {remark.id}"
            await say(bot, server, place, f"#{remark.subject} {remark.title}", text[:2000], NO_MENTIONS)
        except discord.HTTPException as error:
            log.warning("remark on %s not posted in a thread: %s", remark.subject, error.status)
            sentence += f" It is not in the card's thread: {lacks_threads(place.channel)}. /remark list has it."
    await redraw_all(bot, server, [remark.subject])
    await tell(bot, server, remark.notices)
    await interaction.followup.send(sentence, ephemeral=True, allowed_mentions=NO_MENTIONS)
