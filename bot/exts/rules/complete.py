"""Autocomplete over everything that the rules hold."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.ui.escape import label
from engine.services.facts import SuggestFacts, suggest_facts

if TYPE_CHECKING:
    from bot.client import Bot


async def facts(interaction: "discord.Interaction[Bot]", current: str) -> list[app_commands.Choice[str]]:
    """Offer things whose name holds what was typed, of the kind that was picked; the value names one thing only."""
    assert interaction.guild_id is not None
    command = SuggestFacts(
        server=interaction.guild_id,
        member=interaction.user.id,
        text=current,
        kind=getattr(interaction.namespace, "kind", None),
    )
    found = await interaction.client.call(suggest_facts, command)
    return [
        app_commands.Choice(name=label(words, 100), value=address) for address, words in found if len(address) <= 100
    ]
