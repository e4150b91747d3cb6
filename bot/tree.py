"""The command tree: where every unexpected command error ends."""

from typing import Any

import discord
from discord import app_commands

from bot.log import bound
from bot.ui.answer import answer, failed


class Tree(app_commands.CommandTree[Any]):
    """Commands for servers only.

    Errors, in order: a failed check or option is told to the member in one sentence; anything else is logged with a
    reference and the member is given that.
    """

    def __init__(self, client: discord.Client) -> None:
        super().__init__(
            client,
            allowed_contexts=app_commands.AppCommandContext(guild=True, dm_channel=False, private_channel=False),
            allowed_installs=app_commands.AppInstallationType(guild=True, user=False),
        )

    async def on_error(self, interaction: discord.Interaction[Any], error: app_commands.AppCommandError, /) -> None:
        """Answer once, whatever happened."""
        with bound(interaction):
            if isinstance(error, app_commands.MissingPermissions):
                needed = ", ".join(p.replace("_", " ") for p in error.missing_permissions)
                await answer(interaction, f"You need the permission {needed} for this; a server manager can grant it.")
            elif isinstance(error, app_commands.BotMissingPermissions):
                needed = ", ".join(p.replace("_", " ") for p in error.missing_permissions)
                await answer(interaction, f"I need the permission {needed} here; a manager can switch it on.")
            elif isinstance(error, app_commands.TransformerError | app_commands.CommandSignatureMismatch):
                await answer(interaction, "One of the options could not be read; please pick it from the list again.")
            else:
                await failed(interaction, getattr(error, "original", error))
