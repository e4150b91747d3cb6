"""`/help`: what to do first, in six lines; then the GM sentence and the attribution."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.ui.answer import show
from bot.ui.card import Card, block
from engine.services.library import attributions

if TYPE_CHECKING:
    from bot.client import Bot

FIRST_STEPS = (
    "1. `/build load` posts your build: attach its outline as a text file, or fill in the form.",
    "2. `/build show` reads it at any level; `/build why` explains a number; `/build audit` checks the rules.",
    "3. `/build share` lets the server see it. Until then it is your draft.",
    "4. `/propose change` or `/propose text` suggests a change; everybody sees what it does to the numbers and votes.",
    "5. `/odds check` gives the exact chance of a roll, from plain numbers or from a build.",
    "6. `/content list` shows the group's own rules content; `/content template` gives a folio to fill in.",
)
RULING = "The game master's ruling stands. Numbers follow the published rules release that is named on each build."


def help_card(contact: str) -> Card:
    """Return the card. contact: whom to ask, empty if the host named nobody."""
    return Card(
        "Buildmoot: builds, reviewed together",
        "Post a build, read its numbers, propose changes and vote on them.",
        (
            block(*FIRST_STEPS),
            block(RULING, keep=True),
            block(*attributions(), f"Questions about this bot: {contact}" if contact else "", keep=True, small=True),
        ),
    )


@app_commands.command(name="help", description="First steps, whose ruling stands, and the rules attribution")
async def help_command(interaction: "discord.Interaction[Bot]") -> None:
    """Answer privately with the first steps."""
    await show(interaction, help_card(interaction.client.settings.contact), private=True)
