"""Autocomplete of what can be rolled: numbers of the chosen build, and creatures."""

from typing import TYPE_CHECKING, Literal

import discord
from discord import app_commands

from bot.exts.builds.complete import builds, catalog_here, states
from bot.ui.escape import label
from engine.problem import Refused
from engine.services.odds import SuggestRolls, suggest_creatures, suggest_pools, suggest_rolls

if TYPE_CHECKING:
    from bot.client import Bot

__all__ = ["attacks", "builds", "creatures", "pools", "skills", "spells", "states"]

Choices = list[app_commands.Choice[str]]


async def skills(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer skills, initiative, saves, ability checks and tools of the chosen build."""
    return await _rolls(interaction, "skill", current)


async def attacks(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the attacks of the chosen build."""
    return await _rolls(interaction, "attack", current)


async def spells(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the spells with a saving throw of the chosen build."""
    return await _rolls(interaction, "spell", current)


async def pools(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the spells that lay creatures low by a pool of hit points."""
    return [
        app_commands.Choice(name=label(name, 100), value=name)
        for name in suggest_pools(await catalog_here(interaction), current)
    ]


async def creatures(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer creatures of the rules."""
    return [
        app_commands.Choice(name=label(name, 100), value=name)
        for name in suggest_creatures(await catalog_here(interaction), current)
    ]


async def _rolls(
    interaction: "discord.Interaction[Bot]", kind: Literal["skill", "attack", "spell"], current: str
) -> Choices:
    build = getattr(interaction.namespace, "build", None)
    if not build or interaction.guild_id is None:
        return []
    command = SuggestRolls(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        kind=kind,
        level=getattr(interaction.namespace, "level", None),
        text=current,
    )
    found = await interaction.client.call(suggest_rolls, command)
    if isinstance(found, Refused):
        return []
    return [app_commands.Choice(name=label(called, 100), value=value[:100]) for value, called in found]
