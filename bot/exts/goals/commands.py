"""The `/goal` commands."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete
from bot.exts.goals.cards import goals_card
from bot.ui.answer import refuse, show
from bot.ui.escape import plain
from engine.problem import Refused
from engine.services.goals import (
    LONGEST_GOAL,
    AddGoal,
    GoalsView,
    ListGoals,
    RemoveGoal,
    add_goal,
    list_goals,
    remove_goal,
)

if TYPE_CHECKING:
    from bot.client import Bot


class GoalCommands(app_commands.Group):
    """The `/goal` commands."""

    def __init__(self) -> None:
        super().__init__(name="goal", description="What a build is to reach, and whether it does")

    @app_commands.command(name="add", description="Add a goal to your build, such as: hp.max >= 60 at 8")
    @app_commands.describe(build="Your build", goal="As behind `Goal:` in an outline")
    @app_commands.autocomplete(build=complete.own_builds)
    async def add(
        self, interaction: "discord.Interaction[Bot]", build: str, goal: app_commands.Range[str, 1, LONGEST_GOAL]
    ) -> None:
        """Store a goal as a new revision."""
        assert interaction.guild_id is not None
        command = AddGoal(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            text=goal,
            at=interaction.created_at,
        )
        await _told(interaction, await interaction.client.call(add_goal, command), "Added")

    @app_commands.command(name="remove", description="Take a goal off your build, by its place in /goal list")
    @app_commands.describe(build="Your build", place="Its place in the list, from 1")
    @app_commands.autocomplete(build=complete.own_builds)
    async def remove(
        self, interaction: "discord.Interaction[Bot]", build: str, place: app_commands.Range[int, 1, 99]
    ) -> None:
        """Take a goal off as a new revision."""
        assert interaction.guild_id is not None
        command = RemoveGoal(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            place=place,
            at=interaction.created_at,
        )
        await _told(interaction, await interaction.client.call(remove_goal, command), "Taken off")

    @app_commands.command(name="list", description="How a build stands with its goals")
    @app_commands.describe(build="The build")
    @app_commands.autocomplete(build=complete.builds)
    async def list_(self, interaction: "discord.Interaction[Bot]", build: str) -> None:
        """Show the goals of a build."""
        assert interaction.guild_id is not None
        command = ListGoals(server=interaction.guild_id, member=interaction.user.id, build=build)
        await _told(interaction, await interaction.client.call(list_goals, command), "")


async def _told(interaction: "discord.Interaction[Bot]", result: GoalsView | Refused, what: str) -> None:
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    done = f"{what}: {plain(result.changed)}." if what else ""
    await show(interaction, goals_card(result, done), private=not result.view.shared)
    if what:
        from bot.exts.proposals.posting import redraw_all

        assert interaction.guild_id is not None
        moved = [result.view.number, *result.view.followed, *result.view.outdated]
        await redraw_all(interaction.client, interaction.guild_id, moved)
