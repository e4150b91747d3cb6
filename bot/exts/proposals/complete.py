"""Autocomplete of proposals, and of what a level holds and could hold."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds.complete import MOST, Choices, chosen_build
from bot.ui.escape import label
from engine.audit import legal_items, present_items
from engine.rules.names import fold
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
    view, level = await chosen_build(interaction), getattr(interaction.namespace, "level", None)
    if view is None or not isinstance(level, int) or not 1 <= level <= view.build.top:
        return []
    return _matching(present_items(view.build, view.catalog, level), current)


async def legal(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer what could legally stand at the chosen level, as outline items, in the place of what is removed."""
    view, level = await chosen_build(interaction), getattr(interaction.namespace, "level", None)
    if view is None or not isinstance(level, int) or not 1 <= level <= view.build.top:
        return []
    removed = getattr(interaction.namespace, "remove", None) or ""
    return _matching(legal_items(view.build, view.catalog, level, removed), current)


def _matching(items: list[str], current: str) -> Choices:
    wanted = fold(current)
    hits = [item for item in items if wanted in fold(item) and len(item) <= 100]
    return [app_commands.Choice(name=label(item, 100), value=item) for item in hits[:MOST]]
