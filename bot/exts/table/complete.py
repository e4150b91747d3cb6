"""Autocomplete of tables."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds.complete import MOST, Choices
from bot.ui.escape import label
from engine.services.tables import SuggestTables, suggest_tables

if TYPE_CHECKING:
    from bot.client import Bot


async def tables(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the tables of this server; the value is the number people say aloud."""
    assert interaction.guild_id is not None
    command = SuggestTables(server=interaction.guild_id, member=interaction.user.id, text=current)
    found = await interaction.client.call(suggest_tables, command)
    return [app_commands.Choice(name=label(s.label, 100), value=f"#{s.number}") for s in found[:MOST]]
