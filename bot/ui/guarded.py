"""Buttons that outlive a restart, guarded: the library swallows their errors, so each catches its own."""

from typing import Any

import discord
from discord import ui

from bot.log import bound
from bot.ui.answer import answer, failed


class Guarded:
    """Mixin for dynamic items: `callback` runs `press` and takes any exception to the log and to the member."""

    async def callback(self, interaction: discord.Interaction[Any]) -> None:
        """Run `press`; never raise."""
        with bound(interaction):
            try:
                if interaction.guild_id is None:
                    await answer(interaction, "This works only on a server.")
                    return
                await self.press(interaction)
            except Exception as error:
                await failed(interaction, error)

    async def press(self, interaction: discord.Interaction[Any]) -> None:
        """What the press does; raises only on a bug. Every item gives its own."""
        raise TypeError(f"{type(self).__name__} has no press")


class GuardedModal(ui.Modal):
    """A form whose failures are told, and whose text is never lost: `send` gets it, whatever happens."""

    def __init__(self, title: str) -> None:
        super().__init__(title=title[:45], timeout=3600)

    async def on_submit(self, interaction: discord.Interaction[Any]) -> None:
        """Run `send`; never raise."""
        with bound(interaction):
            try:
                await self.send(interaction)
            except Exception as error:
                await failed(interaction, error)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """What sending the form does. Every form gives its own."""
        raise TypeError(f"{type(self).__name__} has no send")
