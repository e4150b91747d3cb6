"""`/server` and `/notices`."""

from datetime import timedelta
from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.server import cards
from bot.ui.answer import answer, refuse, show
from engine.problem import Refused
from engine.review.policy import Ballot, Decider, Voters
from engine.services.members import SetNotices, set_notices
from engine.services.policies import (
    LONGEST_WINDOW,
    MOST_VOTES,
    SetPlace,
    SetPolicy,
    ShowPolicy,
    set_place,
    set_policy,
    show_policy,
)

if TYPE_CHECKING:
    from bot.client import Bot

Hours = app_commands.Range[float, 0.0, LONGEST_WINDOW.total_seconds() / 3600]


class ServerCommands(app_commands.Group):
    """The `/server` commands. Everybody may read; who manages the server may set, which the service checks."""

    def __init__(self) -> None:
        super().__init__(name="server", description="How proposals are decided here, and where cards go")

    @app_commands.command(name="policy", description="Read how proposals are decided; managers set it")
    @app_commands.describe(
        decider="Who decides",
        voters="Who may vote",
        role="The role whose members vote",
        author_votes="Whether the author of the build votes",
        proposer_votes="Whether the proposer votes",
        quorum="Votes needed; 0 for none",
        share="Per cent of the votes for and against that must be for",
        hours="How long a proposal is open; 0 for no deadline",
        ballot="Whether everybody sees who voted what",
    )
    @app_commands.rename(author_votes="author-votes", proposer_votes="proposer-votes")
    async def policy(
        self,
        interaction: "discord.Interaction[Bot]",
        decider: Decider | None = None,
        voters: Voters | None = None,
        role: discord.Role | None = None,
        author_votes: bool | None = None,
        proposer_votes: bool | None = None,
        quorum: app_commands.Range[int, 0, MOST_VOTES] | None = None,
        share: app_commands.Range[int, 1, 100] | None = None,
        hours: Hours | None = None,
        ballot: Ballot | None = None,
    ) -> None:
        """Show the policy, or set what is given."""
        assert interaction.guild_id is not None
        server, member = interaction.guild_id, interaction.user.id
        given = (decider, voters, role, author_votes, proposer_votes, quorum, share, hours, ballot)
        if all(option is None for option in given):
            shown = await interaction.client.call(show_policy, ShowPolicy(server=server, member=member))
            await show(interaction, cards.policy_card(shown), private=True)
            return
        command = SetPolicy(
            server=server,
            member=member,
            manager=interaction.permissions.manage_guild,
            at=interaction.created_at,
            decider=decider,
            voters=voters,
            role=role.id if role else None,
            author_votes=author_votes,
            proposer_votes=proposer_votes,
            quorum=quorum,
            share=share,
            window=None if hours is None else timedelta(minutes=round(hours * 60)),
            ballot=ballot,
        )
        result = await interaction.client.call(set_policy, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await show(interaction, cards.policy_card(result))

    @app_commands.command(name="place", description="Choose the channel or forum for cards; managers only")
    @app_commands.describe(channel="A text channel or a forum; leave it out: cards go where commands are given")
    async def place(
        self,
        interaction: "discord.Interaction[Bot]",
        channel: discord.TextChannel | discord.ForumChannel | None = None,
    ) -> None:
        """Store where cards go."""
        assert interaction.guild_id is not None
        command = SetPlace(
            server=interaction.guild_id,
            member=interaction.user.id,
            manager=interaction.permissions.manage_guild,
            channel=channel.id if channel else None,
            at=interaction.created_at,
        )
        result = await interaction.client.call(set_place, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await show(interaction, cards.policy_card(result))


class NoticeCommands(app_commands.Group):
    """The `/notices` commands."""

    def __init__(self) -> None:
        super().__init__(name="notices", description="Whether notices about proposals and remarks reach you")

    @app_commands.command(name="on", description="Let notices mention you")
    async def on_(self, interaction: "discord.Interaction[Bot]") -> None:
        """Let notices reach the member."""
        await _switch(interaction, True)

    @app_commands.command(name="off", description="No notice mentions you any more")
    async def off(self, interaction: "discord.Interaction[Bot]") -> None:
        """Keep notices from the member."""
        await _switch(interaction, False)


async def _switch(interaction: "discord.Interaction[Bot]", on: bool) -> None:
    assert interaction.guild_id is not None
    command = SetNotices(server=interaction.guild_id, member=interaction.user.id, on=on, at=interaction.created_at)
    await interaction.client.call(set_notices, command)
    words = "Notices about your builds and proposals mention you again." if on else "No notice mentions you any more."
    await answer(interaction, f"{words} This holds for this server.")
