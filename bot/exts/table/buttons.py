"""Buttons of tables and submissions. An id names things and what was seen; rights are read again at every press."""

import re
from typing import TYPE_CHECKING, Any, Final, Self

import discord
from discord import ui

from bot.exts.builds.buttons import OutlineButton
from bot.exts.builds.forms import FIELD
from bot.exts.table import cards, roster_cards
from bot.exts.table.asking import roles_held
from bot.exts.table.sending import after, show_rules
from bot.ui.answer import answer, redraw, refuse, show
from bot.ui.escape import plain
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.review.approval import Stand
from engine.services.approvals import ApproveBuild, ShowSubmission, approve_build, show_submission
from engine.services.roster import ShowRoster, show_roster
from engine.services.table_views import RosterView, SubmissionView, TableView
from engine.services.tables import JoinTable, LeaveTable, ShowTable, join_table, leave_table, show_table

if TYPE_CHECKING:
    from bot.client import Bot

# The platform shows at most 40 parts in a message; the texts of a roster and their rules take the rest.
ROSTER_BUTTONS: Final = 12


class ApproveButton(
    Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:approve:(?P<submission>\d+):(?P<token>[0-9a-f]{12})"
):
    """Approve what the card shows. The token stands for all of that."""

    def __init__(self, submission: int, token: str, words: str = "Approve") -> None:
        super().__init__(
            ui.Button(label=words, style=discord.ButtonStyle.success, custom_id=f"v1:approve:{submission}:{token}")
        )
        self.submission, self.token = submission, token

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["submission"]), match["token"])

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Approve, then draw the card in place; if what it shows is old, draw it in place and say so."""
        assert interaction.guild_id is not None
        bot, server = interaction.client, interaction.guild_id
        await interaction.response.defer()
        command = ApproveBuild(
            server=server,
            member=interaction.user.id,
            submission=self.submission,
            token=self.token,
            at=interaction.created_at,
        )
        result = await bot.call(approve_build, command)
        if isinstance(result, Refused):
            if result.code in ("card-outdated", "already-approved", "withdrawn"):
                await _draw_in_place(interaction, self.submission)
            await refuse(interaction, result)
            return
        await _draw_in_place(interaction, self.submission)
        await after(interaction, result, interaction.message.id if interaction.message else None)


class ReturnButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:return:(?P<submission>\d+)"):
    """Send a build back to its author."""

    def __init__(self, submission: int) -> None:
        super().__init__(ui.Button(label="Return", custom_id=f"v1:return:{submission}"))
        self.submission = submission

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["submission"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the form for the remarks, for a GM."""
        from bot.exts.table.forms import ReturnForm

        if await _as_gm(interaction, self.submission, "return the build to its author") is not None:
            await interaction.response.send_modal(ReturnForm(self.submission))


class WaiveButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:waive:(?P<submission>\d+)"):
    """Let a finding pass."""

    def __init__(self, submission: int) -> None:
        super().__init__(ui.Button(label="Waive a finding", custom_id=f"v1:waive:{submission}"))
        self.submission = submission

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["submission"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the form with the findings to rule on, for a GM."""
        from bot.exts.table.forms import WaiveForm

        view = await _as_gm(interaction, self.submission, "waive a finding")
        if view is None:
            return
        if not view.waiting:
            await answer(interaction, "There is nothing to rule on; the build can be approved as it is.")
            return
        await interaction.response.send_modal(WaiveForm(self.submission, view.waiting))


class ReviewButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:review:(?P<submission>\d+)"):
    """Read a submission privately, with its buttons."""

    def __init__(self, submission: int, words: str = "Review") -> None:
        super().__init__(ui.Button(label=words, custom_id=f"v1:review:{submission}"))
        self.submission = submission

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["submission"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer with the card."""
        view = await _submission(interaction, self.submission)
        if view is not None:
            await show(interaction, cards.submission_card(view).with_rows(*submission_rows(view)), private=True)


class ChangeRulesButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:rules:(?P<table>\d+)"):
    """Change the rules of a table in a form."""

    def __init__(self, table: int) -> None:
        super().__init__(ui.Button(label="Change", custom_id=f"v1:rules:{table}"))
        self.table = table

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["table"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the form, filled in; whether the member may is decided when it is sent."""
        from bot.exts.table.forms import RulesForm

        view = await _table(interaction, self.table)
        if view is None:
            return
        if len(view.text) > FIELD:
            await answer(interaction, "These rules are too long for a form; attach them with `/table rules file:`.")
            return
        await interaction.response.send_modal(RulesForm(view.number, view.text))


class TableButton(
    Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:table:(?P<table>\d+):(?P<what>join|leave|rules|roster)"
):
    """Join or leave a table, read its rules or its roster."""

    def __init__(self, table: int, what: str) -> None:
        super().__init__(ui.Button(label=what.capitalize(), custom_id=f"v1:table:{table}:{what}"))
        self.table, self.what = table, what

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["table"]), match["what"])

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Do it; joining and leaving draw the card in place."""
        if self.what in ("join", "leave"):
            await take_seat(interaction, self.table, self.what, in_place=True)
        elif self.what == "rules":
            view = await _table(interaction, self.table)
            if view is not None:
                await show_rules(interaction, view)
        else:
            await send_roster(interaction, self.table, private=True)


async def take_seat(
    interaction: "discord.Interaction[Bot]", table: int | str | None, what: str, *, in_place: bool = False
) -> None:
    """Join or leave a table. in_place: the press was on the table's card, which is drawn anew."""
    from bot.exts.proposals.posting import redraw_all

    assert interaction.guild_id is not None
    bot, server, member = interaction.client, interaction.guild_id, interaction.user.id
    if what == "join":
        result = await bot.call(
            join_table, JoinTable(server=server, member=member, table=table, at=interaction.created_at)
        )
    else:
        command = LeaveTable(
            server=server, member=member, table=table, roles=roles_held(interaction), at=interaction.created_at
        )
        result = await bot.call(leave_table, command)
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    if in_place:
        await redraw(interaction, cards.table_card(result).with_rows(table_row(result.number)))
    else:
        word = "You play at" if what == "join" else "You left"
        await answer(interaction, f"{word} {plain(result.name)}.")
    await redraw_all(bot, server, result.touched)


async def send_roster(
    interaction: "discord.Interaction[Bot]", table: int | str | None, *, private: bool = False
) -> None:
    """Answer with the roster of a table."""
    assert interaction.guild_id is not None
    command = ShowRoster(
        server=interaction.guild_id, member=interaction.user.id, table=table, roles=roles_held(interaction)
    )
    view = await interaction.client.call(show_roster, command)
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return
    await show(interaction, roster_cards.roster_card(view).with_rows(*roster_rows(view)), private=private)


def submission_rows(view: SubmissionView) -> list[list[ui.Item[Any]]]:
    """Return the buttons under a submission: to decide while there is something to decide, to read always."""
    reading: list[ui.Item[Any]] = [OutlineButton(view.shown.view.number)]
    match view.stand:
        case Stand.WAITING | Stand.CHANGED:
            words = "Approve" if view.stand is Stand.WAITING else "Approve the change"
            row: list[ui.Item[Any]] = [ApproveButton(view.number, view.token, words), ReturnButton(view.number)]
            return [[*row, *([WaiveButton(view.number)] if view.waiting else []), *reading]]
        case Stand.APPROVED:
            return [[ReturnButton(view.number), *([WaiveButton(view.number)] if view.waiting else []), *reading]]
        case _:
            return [reading]


def roster_rows(view: RosterView) -> list[list[ui.Item[Any]]]:
    """Return the buttons of a roster: each change to read and approve, each waiting build to review."""
    buttons: list[ui.Item[Any]] = []
    for entry in view.entries:
        number = entry.shown.view.number
        if entry.stand is Stand.CHANGED:
            buttons.append(ReviewButton(entry.number, f"Show #{number}"))
            if not entry.waiting:
                buttons.append(ApproveButton(entry.number, entry.token, f"Approve the change of #{number}"))
        elif entry.stand is Stand.WAITING:
            buttons.append(ReviewButton(entry.number, f"Review #{number}"))
    return [buttons[:ROSTER_BUTTONS]]


def table_row(table: int) -> list[ui.Item[Any]]:
    """Return the buttons under a table's card."""
    return [TableButton(table, what) for what in ("join", "leave", "rules", "roster")]


async def _draw_in_place(interaction: "discord.Interaction[Bot]", submission: int) -> None:
    """Draw the message that was pressed anew: the submission's card, or the roster that it stood on."""
    assert interaction.guild_id is not None
    command = ShowSubmission(server=interaction.guild_id, member=interaction.user.id, subject=submission)
    view = await interaction.client.call(show_submission, command)
    if isinstance(view, Refused):
        return
    if interaction.message is not None and _is_roster(interaction.message):
        roster = ShowRoster(server=interaction.guild_id, member=interaction.user.id, table=view.table)
        drawn = await interaction.client.call(show_roster, roster)
        if not isinstance(drawn, Refused):
            await redraw(interaction, roster_cards.roster_card(drawn).with_rows(*roster_rows(drawn)))
        return
    await redraw(interaction, cards.submission_card(view).with_rows(*submission_rows(view)))


def _is_roster(message: discord.Message) -> bool:
    """Tell a roster from a submission's card: only a roster lets a submission be reviewed."""
    return any((getattr(part, "custom_id", None) or "").startswith("v1:review:") for part in _parts(message.components))


def _parts(components: Any) -> list[Any]:
    found = []
    for component in components:
        found.append(component)
        found += _parts(getattr(component, "children", None) or [])
    return found


async def _submission(interaction: "discord.Interaction[Bot]", submission: int) -> SubmissionView | None:
    assert interaction.guild_id is not None
    command = ShowSubmission(server=interaction.guild_id, member=interaction.user.id, subject=submission)
    view = await interaction.client.call(show_submission, command)
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return None
    return view


async def _as_gm(interaction: "discord.Interaction[Bot]", submission: int, deed: str) -> SubmissionView | None:
    """Return the submission if the member is one of its GMs, else None after saying who may.

    Only spares the others a form that would be refused when it is sent: the service decides then.
    """
    view = await _submission(interaction, submission)
    if view is None or interaction.user.id in view.gms:
        return view
    await answer(interaction, f"Only a game master of {plain(view.table_name)} can {deed}.")
    return None


async def _table(interaction: "discord.Interaction[Bot]", table: int) -> TableView | None:
    assert interaction.guild_id is not None
    command = ShowTable(server=interaction.guild_id, member=interaction.user.id, table=table)
    view = await interaction.client.call(show_table, command)
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return None
    return view


BUTTONS: Final = (ApproveButton, ReturnButton, WaiveButton, ReviewButton, ChangeRulesButton, TableButton)
