"""Autocomplete of folios and their versions."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds.complete import MOST, Choices
from bot.ui.escape import label
from engine.problem import Refused
from engine.services.folios import ShowFolio, SuggestFolios, show_folio, suggest_folios

if TYPE_CHECKING:
    from bot.client import Bot


async def folios(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the folios of this server; the value is the id."""
    return await _folios(interaction, current, removed=False)


async def removed_folios(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the folios that were taken away."""
    return await _folios(interaction, current, removed=True)


async def _folios(interaction: "discord.Interaction[Bot]", current: str, *, removed: bool) -> Choices:
    assert interaction.guild_id is not None
    command = SuggestFolios(server=interaction.guild_id, member=interaction.user.id, text=current, removed=removed)
    found = await interaction.client.call(suggest_folios, command)
    return [
        app_commands.Choice(name=label(f"{each.title} {each.version} ({each.id})", 100), value=each.id)
        for each in found[:MOST]
    ]


async def versions(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the versions of the folio already filled in on the command being typed."""
    folio = getattr(interaction.namespace, "folio", None)
    if not folio or interaction.guild_id is None:
        return []
    command = ShowFolio(server=interaction.guild_id, member=interaction.user.id, folio=folio)
    view = await interaction.client.call(show_folio, command)
    if isinstance(view, Refused):
        return []
    found = [each.version for each in view.versions if current.strip() in each.version]
    return [app_commands.Choice(name=label(version, 100), value=version) for version in found[:MOST]]
