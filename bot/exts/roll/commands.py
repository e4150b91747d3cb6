"""The `/roll` commands."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete
from bot.exts.roll import cards
from bot.ui.answer import refuse, show
from engine.problem import Refused
from engine.services.rolls import (
    LONGEST_PURPOSE,
    ListRolls,
    RollDice,
    RollHp,
    RollScores,
    RollView,
    ShowRoll,
    list_rolls,
    roll_dice,
    roll_hp,
    roll_scores,
    show_roll,
)

if TYPE_CHECKING:
    from bot.client import Bot

Purpose = app_commands.Range[str, 1, LONGEST_PURPOSE]


class RollCommands(app_commands.Group):
    """The `/roll` commands."""

    def __init__(self) -> None:
        super().__init__(name="roll", description="Real dice, kept with their roller and time")

    @app_commands.command(name="dice", description="Roll any dice, such as 2d6+3 or 4d6 drop lowest")
    @app_commands.describe(dice="The dice", purpose="What the roll is for")
    async def dice(self, interaction: "discord.Interaction[Bot]", dice: str, purpose: Purpose | None = None) -> None:
        """Roll dice before everybody."""
        assert interaction.guild_id is not None
        command = RollDice(
            server=interaction.guild_id,
            member=interaction.user.id,
            dice=dice,
            purpose=purpose or "",
            at=interaction.created_at,
        )
        await _tell(interaction, await interaction.client.call(roll_dice, command))

    @app_commands.command(name="scores", description="Roll six ability scores that a build can cite")
    @app_commands.describe(purpose="What they are for; a second roll for the same is shown as a second")
    async def scores(self, interaction: "discord.Interaction[Bot]", purpose: Purpose | None = None) -> None:
        """Roll scores before everybody."""
        assert interaction.guild_id is not None
        command = RollScores(
            server=interaction.guild_id,
            member=interaction.user.id,
            purpose=purpose or "",
            at=interaction.created_at,
        )
        await _tell(interaction, await interaction.client.call(roll_scores, command))

    @app_commands.command(name="hp", description="Roll the hit die of a level of your own build")
    @app_commands.describe(build="Your build", level="Character level, 2 or more")
    @app_commands.autocomplete(build=complete.own_builds)
    async def hp(
        self, interaction: "discord.Interaction[Bot]", build: str, level: app_commands.Range[int, 1, 20]
    ) -> None:
        """Roll hit points before everybody."""
        assert interaction.guild_id is not None
        command = RollHp(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            level=level,
            at=interaction.created_at,
        )
        await _tell(interaction, await interaction.client.call(roll_hp, command))

    @app_commands.command(name="show", description="Look up a roll by its number")
    @app_commands.describe(roll="Its number, such as #12")
    async def show_(self, interaction: "discord.Interaction[Bot]", roll: str) -> None:
        """Show a roll to the member who asks."""
        assert interaction.guild_id is not None
        command = ShowRoll(server=interaction.guild_id, member=interaction.user.id, roll=roll)
        await _tell(interaction, await interaction.client.call(show_roll, command), private=True)

    @app_commands.command(name="list", description="The rolls of this server, newest first")
    @app_commands.describe(roller="Only by this member", page="Page of the list")
    async def list_(
        self,
        interaction: "discord.Interaction[Bot]",
        roller: discord.User | None = None,
        page: app_commands.Range[int, 1] = 1,
    ) -> None:
        """List rolls privately."""
        assert interaction.guild_id is not None
        command = ListRolls(
            server=interaction.guild_id,
            member=interaction.user.id,
            roller=roller.id if roller is not None else None,
            page=page,
        )
        await show(interaction, cards.list_card(await interaction.client.call(list_rolls, command)), private=True)


async def _tell(interaction: "discord.Interaction[Bot]", result: RollView | Refused, *, private: bool = False) -> None:
    """Show a roll, or tell the member why there is none."""
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    await show(interaction, cards.roll_card(result), private=private)
