"""What the chat says about the member who asks: roles held, and whether they may manage the server."""

from typing import Any

import discord


def roles_held(interaction: discord.Interaction[Any]) -> frozenset[int]:
    """Return the ids of the member's chat roles."""
    user = interaction.user
    return frozenset(role.id for role in user.roles) if isinstance(user, discord.Member) else frozenset()


def manages(interaction: discord.Interaction[Any]) -> bool:
    """Return whether the member may manage the server."""
    return interaction.permissions.manage_guild
