"""`/privacy`: what is stored about me, erase me, and what holds for everybody."""

from typing import TYPE_CHECKING, Literal

import discord
from discord import app_commands

from bot.exts.privacy.buttons import EraseButton
from bot.ui.answer import show, text_file
from bot.ui.card import Card, block
from engine.services.drafts import KEPT_FOR
from engine.services.privacy import MyData, data_file, my_data

if TYPE_CHECKING:
    from bot.client import Bot

FILE = "my-data.json"


def policy_card(contact: str, grace_days: int) -> Card:
    """Return what is stored, why, how long, how it is protected, and whom to ask."""
    return Card(
        "What this bot keeps, and why",
        "What you post with its commands on this server, your platform id, and the time. It reads no messages.",
        (
            block(
                "**Stored** builds and their revisions, proposals, votes, remarks, rolls, write-ups, folios, seats at "
                "tables, submissions and approvals, the history of changes, whether notices may mention you, and texts "
                "of forms that were not posted.",
                "**Why** so that a group can review builds together and see who said what and when. Nothing is sold, "
                "shared, profiled, or used to train anything.",
                f"**How long** until you take it away; texts of forms {KEPT_FOR.days} days; everything of a server "
                f"{grace_days} days after the bot is removed from it.",
                "**Protected** nothing crosses servers; every command checks who may see what; the host keeps database "
                "and backups on encrypted disks that only the bot's account can read. A secret ballot is secret among "
                "members: the host, and managers who take the server's archive, could read it.",
                "**Yours** `/privacy mine` gives you all of it as a file, `/privacy erase` takes your id and name out, "
                "with your builds or without; wrong entries can be changed by `/build edit` and `/remark edit`.",
                f"**Ask** {contact or 'the host of this bot; the managers of this server know who that is'}",
                keep=True,
            ),
        ),
    )


class PrivacyCommands(app_commands.Group):
    """The `/privacy` commands."""

    def __init__(self) -> None:
        super().__init__(name="privacy", description="What is stored about you, and how to be erased")

    @app_commands.command(name="policy", description="What is stored, why, how long, how protected, whom to ask")
    async def policy(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer privately with the policy."""
        settings = interaction.client.settings
        await show(interaction, policy_card(settings.contact, settings.grace_days), private=True)

    @app_commands.command(name="mine", description="Everything stored about you on this server, as a file")
    async def mine(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer privately with a file."""
        assert interaction.guild_id is not None
        command = MyData(server=interaction.guild_id, member=interaction.user.id)
        found = await interaction.client.call(my_data, command)
        if not found:
            await show(interaction, Card("Nothing", "Nothing about you is stored on this server."), private=True)
            return
        lines = [f"{len(rows)} in {table}" for table, rows in found.items()]
        card = Card("What is stored about you here", "All of it is in the file.", (block(*lines),), files=(FILE,))
        await show(interaction, card, private=True, files=[text_file(FILE, data_file(found))])

    @app_commands.command(name="erase", description="Take your id and name out of this server's data")
    @app_commands.describe(builds="Whether builds and texts that you wrote stay, under no name, or go")
    async def erase(self, interaction: "discord.Interaction[Bot]", builds: Literal["stay", "go"]) -> None:
        """Ask for a confirmation first."""
        what = (
            "Builds that you made are deleted with all proposals to them, your remarks and reasons are emptied."
            if builds == "go"
            else "Builds and remarks that you wrote stay, under no name; open proposals to your builds are declined."
        )
        card = Card(
            "Erase you on this server?",
            "This cannot be undone.",
            (
                block(
                    what,
                    "A build with a co-author is handed to that member. Your votes stay counted, under no name.",
                    "`/privacy mine` gives you a copy first.",
                ),
            ),
        )
        await show(interaction, card.with_rows([EraseButton(interaction.user.id, builds)]), private=True)
