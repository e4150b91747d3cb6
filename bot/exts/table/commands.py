"""`/table`: who plays, at which level, by which rules; builds before the GM; the roster."""

from datetime import timedelta
from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete as build_complete
from bot.exts.builds.commands import LevelOption
from bot.exts.server.commands import Hours
from bot.exts.table import cards, complete
from bot.exts.table.asking import manages, roles_held
from bot.exts.table.buttons import send_roster, submission_rows, table_row, take_seat
from bot.exts.table.sending import post_submission, read_rules, send_rules, show_rules
from bot.ui.answer import answer, refuse, show
from bot.ui.escape import plain
from engine.problem import Refused
from engine.review.policy import Ballot, Decider, Voters
from engine.services.approvals import (
    ShowSubmission,
    SubmitBuild,
    TakeBackBuild,
    show_submission,
    submit_build,
    take_back_build,
)
from engine.services.policies import MOST_VOTES
from engine.services.table_policies import (
    SetTablePolicy,
    ShowTablePolicy,
    TablePolicyView,
    set_table_policy,
    show_table_policy,
)
from engine.services.tables import (
    CloseTable,
    EditTable,
    ListTables,
    NewTable,
    SeatMember,
    SetTableLevel,
    ShowTable,
    TableHistory,
    UnseatMember,
    close_table,
    edit_table,
    list_tables,
    new_table,
    seat_member,
    set_table_level,
    show_table,
    table_history,
    unseat_member,
)

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.table_views import TableView

Channel = discord.TextChannel | discord.ForumChannel


class TableCommands(app_commands.Group):
    """The `/table` commands."""

    def __init__(self) -> None:
        super().__init__(name="table", description="A table: its players, level, rules, approvals and roster")

    @app_commands.command(name="new", description="Open a table; you are its GM unless you name another")
    @app_commands.describe(
        name="What the table is called",
        level="The campaign's level; 1 if left out",
        gm="Its GM, if not you",
        channel="Where its cards go",
        role="Whoever has this role plays there",
        open="Whether anybody may join; yes if left out",
    )
    async def new(
        self,
        interaction: "discord.Interaction[Bot]",
        name: app_commands.Range[str, 1, 60],
        level: LevelOption = 1,
        gm: discord.Member | None = None,
        channel: Channel | None = None,
        role: discord.Role | None = None,
        open: bool = True,
    ) -> None:
        """Open a table and show it to everybody."""
        assert interaction.guild_id is not None
        command = NewTable(
            server=interaction.guild_id,
            member=interaction.user.id,
            name=name,
            level=level,
            gm=gm.id if gm is not None else None,
            channel=channel.id if channel is not None else None,
            role=role.id if role is not None else None,
            open=open,
            at=interaction.created_at,
        )
        await _show_table(interaction, await interaction.client.call(new_table, command), private=False)

    @app_commands.command(name="edit", description="Change a table's name, channel, role or door")
    @app_commands.describe(
        table="The table",
        name="Its new name",
        channel="Where its cards go",
        role="Whoever has this role plays there",
        open="Whether anybody may join",
        anywhere="Let cards go where a command is given",
        by_name="Let nobody play by a role",
    )
    @app_commands.rename(by_name="by-name")
    @app_commands.autocomplete(table=complete.tables)
    async def edit(
        self,
        interaction: "discord.Interaction[Bot]",
        table: str,
        name: app_commands.Range[str, 1, 60] | None = None,
        channel: Channel | None = None,
        role: discord.Role | None = None,
        open: bool | None = None,
        anywhere: bool = False,
        by_name: bool = False,
    ) -> None:
        """Change what is given; the rest stays."""
        assert interaction.guild_id is not None
        command = EditTable(
            server=interaction.guild_id,
            member=interaction.user.id,
            table=table,
            name=name,
            channel=0 if anywhere else channel.id if channel is not None else None,
            role=0 if by_name else role.id if role is not None else None,
            open=open,
            manager=manages(interaction),
            at=interaction.created_at,
        )
        await _changed(interaction, await interaction.client.call(edit_table, command))

    @app_commands.command(name="level", description="Set the campaign's level; the roster shows what is due there")
    @app_commands.describe(level="The level", table="The table, if there are several")
    @app_commands.autocomplete(table=complete.tables)
    async def level(
        self, interaction: "discord.Interaction[Bot]", level: LevelOption, table: str | None = None
    ) -> None:
        """Set the level and draw the cards of submissions anew."""
        assert interaction.guild_id is not None
        command = SetTableLevel(
            server=interaction.guild_id,
            member=interaction.user.id,
            table=table,
            level=level,
            roles=roles_held(interaction),
            manager=manages(interaction),
            at=interaction.created_at,
        )
        await _changed(interaction, await interaction.client.call(set_table_level, command))

    @app_commands.command(name="rules", description="Read the rules in force; its GM changes them in a form or a file")
    @app_commands.describe(table="The table, if there are several", file="New rules as a YAML file")
    @app_commands.autocomplete(table=complete.tables)
    async def rules(
        self,
        interaction: "discord.Interaction[Bot]",
        table: str | None = None,
        file: discord.Attachment | None = None,
    ) -> None:
        """Show the rules with a button to change them, or set them from a file."""
        view = await _found(interaction, table)
        if view is None:
            return
        if file is None:
            await show_rules(interaction, view)
            return
        text = await read_rules(interaction, file)
        if text is not None:
            await send_rules(interaction, view.number, text)

    @app_commands.command(name="join", description="Play at a table")
    @app_commands.describe(table="The table, if there are several")
    @app_commands.autocomplete(table=complete.tables)
    async def join(self, interaction: "discord.Interaction[Bot]", table: str | None = None) -> None:
        """Take a seat."""
        await take_seat(interaction, table, "join")

    @app_commands.command(name="leave", description="Leave a table; your builds there are taken back")
    @app_commands.describe(table="The table, if you play at several")
    @app_commands.autocomplete(table=complete.tables)
    async def leave(self, interaction: "discord.Interaction[Bot]", table: str | None = None) -> None:
        """Give the seat up."""
        await take_seat(interaction, table, "leave")

    @app_commands.command(name="members", description="Who plays at a table; its GM adds and removes")
    @app_commands.describe(
        table="The table, if there are several", add="A player to add", gm="A GM to add", remove="Whom to remove"
    )
    @app_commands.autocomplete(table=complete.tables)
    async def members(
        self,
        interaction: "discord.Interaction[Bot]",
        table: str | None = None,
        add: discord.Member | None = None,
        gm: discord.Member | None = None,
        remove: discord.Member | None = None,
    ) -> None:
        """Show who sits there, after one change if one is asked for."""
        view = await _found(interaction, table)
        if view is None:
            return
        given = [(whom, what) for whom, what in ((add, "add"), (gm, "gm"), (remove, "remove")) if whom is not None]
        if len(given) > 1:
            await answer(interaction, "Add a player, add a GM or remove somebody: one thing at a time.")
            return
        assert interaction.guild_id is not None
        server, member, at = interaction.guild_id, interaction.user.id, interaction.created_at
        result: TableView | Refused = view
        for whom, what in given:
            if what == "remove":
                taken = UnseatMember(
                    server=server, member=member, table=view.number, whom=whom.id, manager=manages(interaction), at=at
                )
                result = await interaction.client.call(unseat_member, taken)
            else:
                seated = SeatMember(
                    server=server,
                    member=member,
                    table=view.number,
                    whom=whom.id,
                    gm=what == "gm",
                    manager=manages(interaction),
                    at=at,
                )
                result = await interaction.client.call(seat_member, seated)
        await _changed(interaction, result)

    @app_commands.command(name="show", description="A table: its GM, players, level and rules in short")
    @app_commands.describe(table="The table, if there are several")
    @app_commands.autocomplete(table=complete.tables)
    async def show_(self, interaction: "discord.Interaction[Bot]", table: str | None = None) -> None:
        """Show a table to everybody, with buttons to join and leave."""
        view = await _found(interaction, table)
        if view is not None:
            await _show_table(interaction, view, private=False)

    @app_commands.command(name="list", description="The tables of this server")
    async def list_(self, interaction: "discord.Interaction[Bot]") -> None:
        """List the tables, privately."""
        assert interaction.guild_id is not None
        command = ListTables(server=interaction.guild_id, member=interaction.user.id)
        await show(interaction, cards.tables_card(await interaction.client.call(list_tables, command)), private=True)

    @app_commands.command(name="policy", description="How proposals to builds at a table are decided; its GM sets it")
    @app_commands.describe(
        table="The table, if there are several",
        decider="Who decides",
        voters="Who may vote",
        role="The role whose members vote",
        author_votes="Whether the author of the build votes",
        proposer_votes="Whether the proposer votes",
        quorum="Votes needed; 0 for none",
        share="Per cent of the votes for and against that must be for",
        hours="How long a proposal is open; 0 for no deadline",
        ballot="Whether everybody sees who voted what",
        server_wide="Go by the server's policy again",
    )
    @app_commands.rename(author_votes="author-votes", proposer_votes="proposer-votes", server_wide="server-wide")
    @app_commands.autocomplete(table=complete.tables)
    async def policy(
        self,
        interaction: "discord.Interaction[Bot]",
        table: str | None = None,
        decider: Decider | None = None,
        voters: Voters | None = None,
        role: discord.Role | None = None,
        author_votes: bool | None = None,
        proposer_votes: bool | None = None,
        quorum: app_commands.Range[int, 0, MOST_VOTES] | None = None,
        share: app_commands.Range[int, 1, 100] | None = None,
        hours: Hours | None = None,
        ballot: Ballot | None = None,
        server_wide: bool = False,
    ) -> None:
        """Show the policy, or set what is given."""
        view = await _found(interaction, table)
        if view is None:
            return
        assert interaction.guild_id is not None
        server, member = interaction.guild_id, interaction.user.id
        given = (decider, voters, role, author_votes, proposer_votes, quorum, share, hours, ballot)
        result: TablePolicyView | Refused
        if not server_wide and all(option is None for option in given):
            asked = ShowTablePolicy(server=server, member=member, table=view.number)
            result = await interaction.client.call(show_table_policy, asked)
        else:
            command = SetTablePolicy(
                server=server,
                member=member,
                table=view.number,
                manager=manages(interaction),
                server_wide=server_wide,
                decider=decider,
                voters=voters,
                role=role.id if role is not None else None,
                author_votes=author_votes,
                proposer_votes=proposer_votes,
                quorum=quorum,
                share=share,
                window=None if hours is None else timedelta(minutes=round(hours * 60)),
                ballot=ballot,
                at=interaction.created_at,
            )
            result = await interaction.client.call(set_table_policy, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await show(interaction, cards.policy_card(result), private=True)

    @app_commands.command(name="history", description="Who changed what about a table, and when")
    @app_commands.describe(table="The table, if there are several")
    @app_commands.autocomplete(table=complete.tables)
    async def history(
        self, interaction: "discord.Interaction[Bot]", table: str | None = None, page: app_commands.Range[int, 1] = 1
    ) -> None:
        """Page through the history of a table, privately."""
        view = await _found(interaction, table)
        if view is None:
            return
        assert interaction.guild_id is not None
        command = TableHistory(server=interaction.guild_id, member=interaction.user.id, table=view.number, page=page)
        found = await interaction.client.call(table_history, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, cards.history_card(view, found), private=True)

    @app_commands.command(name="close", description="Close a table; builds there are taken back, its history stays")
    @app_commands.describe(table="The table")
    @app_commands.autocomplete(table=complete.tables)
    async def close(self, interaction: "discord.Interaction[Bot]", table: str) -> None:
        """Close a table."""
        from bot.exts.proposals.posting import redraw_all

        assert interaction.guild_id is not None
        command = CloseTable(
            server=interaction.guild_id,
            member=interaction.user.id,
            table=table,
            manager=manages(interaction),
            at=interaction.created_at,
        )
        result = await interaction.client.call(close_table, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await answer(interaction, f"{plain(result.name)} is closed; its name is free again.")
        await redraw_all(interaction.client, interaction.guild_id, result.touched)

    @app_commands.command(name="submit", description="Put your build before the GM of your table")
    @app_commands.describe(build="Your build", table="The table, if you play at several")
    @app_commands.autocomplete(build=build_complete.own_builds, table=complete.tables)
    async def submit(self, interaction: "discord.Interaction[Bot]", build: str, table: str | None = None) -> None:
        """Submit a build and post its card for the GM."""
        assert interaction.guild_id is not None
        command = SubmitBuild(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            table=table,
            roles=roles_held(interaction),
            at=interaction.created_at,
        )
        result = await interaction.client.call(submit_build, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await post_submission(interaction, result)

    @app_commands.command(name="withdraw", description="Take your build back from the table")
    @app_commands.describe(build="Your build")
    @app_commands.autocomplete(build=build_complete.own_builds)
    async def withdraw(self, interaction: "discord.Interaction[Bot]", build: str) -> None:
        """Take a build back; an approval it had is over."""
        from bot.exts.proposals.posting import redraw_all

        assert interaction.guild_id is not None
        command = TakeBackBuild(
            server=interaction.guild_id, member=interaction.user.id, build=build, at=interaction.created_at
        )
        result = await interaction.client.call(take_back_build, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        name = plain(result.shown.view.name)
        await answer(interaction, f"{name} is taken back from {plain(result.table_name)}.")
        await redraw_all(interaction.client, interaction.guild_id, [result.number])

    @app_commands.command(name="review", description="A submitted build: findings, changes since approval, decision")
    @app_commands.describe(build="The build", post="Put its card where the table wants it, if it is gone there")
    @app_commands.autocomplete(build=build_complete.builds)
    async def review(self, interaction: "discord.Interaction[Bot]", build: str, post: bool = False) -> None:
        """Show a submission privately, or post its card again."""
        assert interaction.guild_id is not None
        command = ShowSubmission(server=interaction.guild_id, member=interaction.user.id, subject=build)
        view = await interaction.client.call(show_submission, command)
        if isinstance(view, Refused):
            await refuse(interaction, view)
        elif post:
            await post_submission(interaction, view)
        else:
            await show(interaction, cards.submission_card(view).with_rows(*submission_rows(view)), private=True)

    @app_commands.command(name="roster", description="Every build at a table: approved, changed, waiting, what is due")
    @app_commands.describe(table="The table, if there are several")
    @app_commands.autocomplete(table=complete.tables)
    async def roster(self, interaction: "discord.Interaction[Bot]", table: str | None = None) -> None:
        """Show the roster and what the party covers."""
        await send_roster(interaction, table)


async def _found(interaction: "discord.Interaction[Bot]", table: str | None) -> "TableView | None":
    """Return the table meant, or None after refusing privately."""
    assert interaction.guild_id is not None
    command = ShowTable(
        server=interaction.guild_id, member=interaction.user.id, table=table, roles=roles_held(interaction)
    )
    view = await interaction.client.call(show_table, command)
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return None
    return view


async def _show_table(interaction: "discord.Interaction[Bot]", view: "TableView | Refused", *, private: bool) -> None:
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return
    await show(interaction, cards.table_card(view).with_rows(table_row(view.number)), private=private)


async def _changed(interaction: "discord.Interaction[Bot]", view: "TableView | Refused") -> None:
    """Show a table privately after a change, and draw the cards that the change touches anew."""
    from bot.exts.proposals.posting import redraw_all

    await _show_table(interaction, view, private=True)
    if not isinstance(view, Refused):
        assert interaction.guild_id is not None
        await redraw_all(interaction.client, interaction.guild_id, view.touched)
