"""What happens to a proposed change: previewed to its proposer alone, then posted."""

from typing import TYPE_CHECKING

import discord

from bot.exts.builds.sending import give_back
from bot.exts.proposals import cards
from bot.ui.answer import refuse, show
from engine.problem import Refused
from engine.services.proposals import PreviewChange, PreviewText, preview_change, preview_text
from engine.services.views import Part, ProposalPreview, TextErrors

if TYPE_CHECKING:
    from bot.client import Bot


async def send_text(
    interaction: "discord.Interaction[Bot]",
    build: int | str,
    part: Part,
    text: str,
    reason: str,
    revision: int | None,
    *,
    based_on: int | None = None,
    instead: int | None = None,
) -> None:
    """Preview a proposal made from outline text. based_on, instead: numbers of other proposals, see `PreviewText`."""
    assert interaction.guild_id is not None
    command = PreviewText(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        part=part,
        text=text,
        reason=reason,
        revision=revision,
        based_on=based_on,
        instead=instead,
        at=interaction.created_at,
    )
    await show_preview(interaction, await interaction.client.call(preview_text, command))


async def send_change(
    interaction: "discord.Interaction[Bot]",
    build: int | str,
    level: int,
    remove: str,
    add: str,
    reason: str,
    *,
    based_on: int | str | None = None,
    instead: int | None = None,
) -> None:
    """Preview a proposal that removes something and adds something at one level."""
    assert interaction.guild_id is not None
    command = PreviewChange(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        level=level,
        remove=remove,
        add=add,
        reason=reason,
        based_on=based_on,
        instead=instead,
        at=interaction.created_at,
    )
    await show_preview(interaction, await interaction.client.call(preview_change, command))


async def show_preview(interaction: "discord.Interaction[Bot]", result: ProposalPreview | TextErrors | Refused) -> None:
    """Show a proposer what the change would do, with the buttons to post it or to change it first."""
    from bot.exts.builds.buttons import AgainButton
    from bot.exts.proposals.buttons import PostButton, PutButton

    if isinstance(result, Refused):
        await refuse(interaction, result)
    elif isinstance(result, TextErrors):
        await give_back(interaction, result)
    else:
        card = cards.preview_card(result).with_rows(
            [
                PostButton(result.draft) if result.instead is None else PutButton(result.instead, result.draft),
                AgainButton(result.draft, "Change"),
            ]
        )
        await show(interaction, card, private=True)
