"""Autocomplete of proposals, and of what a level holds and could hold."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds.complete import MOST, Choices
from bot.ui.escape import label
from engine.services.numbers import SuggestChanges, suggest_changes
from engine.services.proposals import SuggestProposals, suggest_proposals

if TYPE_CHECKING:
    from bot.client import Bot


async def proposals(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the proposals of this server, open ones first."""
    assert interaction.guild_id is not None
    command = SuggestProposals(server=interaction.guild_id, member=interaction.user.id, text=current)
    found = await interaction.client.call(suggest_proposals, command)
    return [app_commands.Choice(name=label(s.label, 100), value=f"#{s.number}") for s in found[:MOST]]


async def there(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer what stands at the chosen level, as outline items."""
    return await _changes(interaction, current, adding=False)


async def legal(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer what could legally stand at the chosen level, as outline items."""
    return await _changes(interaction, current, adding=True)


async def _changes(interaction: "discord.Interaction[Bot]", current: str, *, adding: bool) -> Choices:
    build, level = getattr(interaction.namespace, "build", None), getattr(interaction.namespace, "level", None)
    if not build or not isinstance(level, int) or interaction.guild_id is None:
        return []
    command = SuggestChanges(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        level=level,
        text=current,
        adding=adding,
    )
    found = await interaction.client.call(suggest_changes, command)
    return [app_commands.Choice(name=label(item, 100), value=item) for item in found[:MOST] if len(item) <= 100]
