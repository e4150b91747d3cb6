"""`/rules`: facts of spells, features, items, classes, creatures and the rest, and where they stand."""

from typing import TYPE_CHECKING, Literal

import discord
from discord import app_commands

from bot.exts.rules import complete
from bot.exts.rules.cards import fact_card
from bot.ui.answer import refuse, show
from engine.problem import Refused
from engine.services.facts import FindFact, find_fact

if TYPE_CHECKING:
    from bot.client import Bot

# The kinds of `engine.rules.index.FOUND_KINDS`, spelled out: the platform shows them as choices.
Kind = Literal[
    "spell",
    "feature",
    "item",
    "class",
    "subclass",
    "species",
    "background",
    "feat",
    "creature",
    "condition",
    "state",
    "option",
]


class RulesCommands(app_commands.Group):
    """The `/rules` commands."""

    def __init__(self) -> None:
        super().__init__(name="rules", description="Facts of the rules: spells, features, items, classes, creatures")

    @app_commands.command(name="find", description="The facts of one thing, and the section where it stands")
    @app_commands.describe(name="What it is called, such as Fireball", kind="Only things of this kind")
    @app_commands.autocomplete(name=complete.facts)
    async def find(self, interaction: "discord.Interaction[Bot]", name: str, kind: Kind | None = None) -> None:
        """Show a card of facts; what is not found is told to the member alone."""
        assert interaction.guild_id is not None
        command = FindFact(server=interaction.guild_id, member=interaction.user.id, name=name, kind=kind)
        found = await interaction.client.call(find_fact, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, fact_card(found))
