"""What happens to folios that members send and change: stored or told what is wrong, then builds that would change."""

import io
from typing import TYPE_CHECKING, Any, Final

import discord

from bot.exts.content import cards
from bot.exts.proposals.notices import tell
from bot.exts.proposals.posting import ANYONE, chosen_place, post_card, redraw_all
from bot.ui.answer import answer, redraw, refuse, show, text_file
from bot.ui.card import NO_MENTIONS, CardView
from bot.ui.escape import plain
from engine.problem import Refused
from engine.services.folio_moves import ConcernedBuilds, MoveBuild, concerned_builds, move_build
from engine.services.folio_views import ConcernedView, FolioErrors, FolioFile, FolioView
from engine.services.folios import LONGEST_FILE
from engine.services.views import ProposalView

if TYPE_CHECKING:
    from bot.client import Bot

ERRORS_FILE: Final = "to-mend.txt"


async def read_folio_file(interaction: discord.Interaction[Any], file: discord.Attachment) -> bytes | None:
    """Return the bytes of an attached folio, or None after telling the member that it is too large."""
    if file.size <= LONGEST_FILE:
        return await file.read()
    await answer(
        interaction,
        f"That file has {file.size / 1024 / 1024:.1f} MB; a folio may have {LONGEST_FILE // 1024 // 1024} MB.",
    )
    return None


async def give_errors(interaction: discord.Interaction[Any], found: FolioErrors, name: str) -> None:
    """Tell a member privately all that is wrong with a folio, as a file too where it is much."""
    many = len(found.lines) > cards.SHOWN_ERRORS
    files = [text_file(ERRORS_FILE, "\n".join(found.lines) + "\n")] if many else []
    await show(interaction, cards.errors_card(found, name, ERRORS_FILE if many else ""), private=True, files=files)


async def changed(
    interaction: "discord.Interaction[Bot]",
    view: FolioView | Refused,
    first: str,
    *,
    removal: bool | None = None,
    gone: bool = False,
) -> None:
    """Show a folio privately after a change, and draw the cards anew that say something else now.

    first: what has happened. removal: post which builds would change, with it or without it; None: do not. gone:
    whether it went or came back.
    """
    assert interaction.guild_id is not None
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return
    await show(interaction, cards.folio_card(view, first), private=True)
    # A folio that goes or comes back changes what builds are worth; drafts have no card that could be old.
    builds = (number for version in view.versions for number, _ in version.builds)
    await redraw_all(interaction.client, interaction.guild_id, (*view.touched, *(builds if gone else ())))
    if removal is not None:
        await post_concerned(interaction, view.brief.id, removal=removal)


async def post_concerned(interaction: "discord.Interaction[Bot]", folio: str, *, removal: bool = False) -> None:
    """Post for everybody which shared builds would change and how, if there are any, with a button for each author."""
    view = await concerned(interaction, folio, member=ANYONE, removal=removal)
    if isinstance(view, Refused) or not view.builds:
        return
    await interaction.followup.send(view=CardView(with_moves(view)), ephemeral=False, allowed_mentions=NO_MENTIONS)


async def concerned(
    interaction: "discord.Interaction[Bot]", folio: str, *, member: int, removal: bool = False
) -> ConcernedView | Refused:
    """Return which builds would change of those that a member may see."""
    assert interaction.guild_id is not None
    command = ConcernedBuilds(server=interaction.guild_id, member=member, folio=folio, removal=removal)
    return await interaction.client.call(concerned_builds, command)


def with_moves(view: ConcernedView) -> Any:
    """Return the card of builds that would change with a button for each to move it."""
    from bot.exts.content.buttons import MoveButton

    card = cards.concerned_card(view)
    if view.removal:
        return card
    return card.with_rows([MoveButton(each.view.number, view.folio.id) for each in view.builds])


async def move(interaction: "discord.Interaction[Bot]", build: int, folio: str) -> None:
    """Move a build to the version in use, or post the proposal to do so, and draw the pressed card anew."""
    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    await interaction.response.defer()
    command = MoveBuild(server=server, member=interaction.user.id, build=build, folio=folio, at=interaction.created_at)
    result = await bot.call(move_build, command)
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    if isinstance(result, ProposalView):
        sentence = await _posted(interaction, result)
    else:
        use = next(each for each in result.build.folios if each.id == folio)
        sentence = f"{plain(result.name)} uses version {plain(use.version)} now, as revision {result.revision.number}."
        await redraw_all(bot, server, [result.number, *result.followed, *result.outdated])
        await tell(bot, server, result.notices)
    message = interaction.message
    own = message is not None and message.flags.ephemeral
    view = await concerned(interaction, folio, member=interaction.user.id if own else ANYONE)
    if not isinstance(view, Refused):
        await redraw(interaction, with_moves(view))
    await answer(interaction, sentence)


async def _posted(interaction: "discord.Interaction[Bot]", view: ProposalView) -> str:
    """Post the card of a proposal to move a build; return the sentence that says where it stands."""
    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    bot.deadlines.wake()
    place = await chosen_place(interaction)
    posted = None if isinstance(place, Refused) else await post_card(bot, server, place, view.number)
    await tell(bot, server, view.notices)
    await redraw_all(bot, server, [view.view.number])
    if posted is None:
        return f"The build is approved for play, so proposal #{view.number} asks for it; `/proposal show` posts it."
    return f"The build is approved for play, so proposal #{view.number} asks for it: see <#{posted.channel}>."


async def hand_out(interaction: discord.Interaction[Any], found: FolioFile) -> None:
    """Give a member a folio's file as it came."""
    file = discord.File(io.BytesIO(found.data), filename=found.name)
    sentence = f"{plain(found.id)} {plain(found.version)}, as it came. Mind its licence before you share it."
    await interaction.response.send_message(sentence, file=file, ephemeral=True, allowed_mentions=NO_MENTIONS)
