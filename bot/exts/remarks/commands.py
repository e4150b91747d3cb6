"""`/remark`: put remarks on record, answer, change, take away and settle them."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete as build_complete
from bot.exts.builds.commands import LevelOption
from bot.exts.proposals import complete as proposal_complete
from bot.exts.proposals.forms import RemarkForm
from bot.exts.proposals.posting import post_remark, redraw_all
from bot.exts.remarks import cards
from bot.ui.answer import answer, refuse, show
from bot.ui.escape import label, plain
from bot.ui.numbers import name_words, number_named
from engine.problem import Refused
from engine.rules.names import nearest
from engine.services.builds import ShowBuild, show_build
from engine.services.names import number_of
from engine.services.remarks import (
    LONGEST,
    AddRemark,
    AnswerRemark,
    EditRemark,
    ListRemarks,
    RemoveRemark,
    SettleRemark,
    SuggestRemarks,
    add_remark,
    answer_remark,
    edit_remark,
    list_remarks,
    remove_remark,
    settle_remark,
    suggest_remarks,
)

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import RemarkView

TextOption = app_commands.Range[str, 1, LONGEST]
Choices = list[app_commands.Choice[str]]


async def subjects(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer builds and proposals."""
    found = await build_complete.builds(interaction, current)
    return (found + await proposal_complete.proposals(interaction, current))[: build_complete.MOST]


async def remark_ids(interaction: "discord.Interaction[Bot]", current: str) -> list[app_commands.Choice[int]]:
    """Offer the remarks on the chosen build or proposal."""
    subject = getattr(interaction.namespace, "on", None)
    if not subject or interaction.guild_id is None:
        return []
    command = SuggestRemarks(server=interaction.guild_id, member=interaction.user.id, subject=subject, text=current)
    found = await interaction.client.call(suggest_remarks, command)
    return [app_commands.Choice(name=label(each.label, 100), value=each.number) for each in found]


class RemarkCommands(app_commands.Group):
    """The `/remark` commands."""

    def __init__(self) -> None:
        super().__init__(name="remark", description="Put remarks on builds and proposals on record")

    @app_commands.command(name="add", description="Remark on a build, a level, a number or a proposal")
    @app_commands.describe(
        on="The build or proposal",
        level="A level of the build",
        number="A number of the build, such as Stealth",
        text="What you say; a form opens if left out",
    )
    @app_commands.autocomplete(on=subjects, number=build_complete.numbers)
    async def add(
        self,
        interaction: "discord.Interaction[Bot]",
        on: str,
        level: LevelOption | None = None,
        number: str | None = None,
        text: TextOption | None = None,
    ) -> None:
        """Store a remark, or open the form for it."""
        assert interaction.guild_id is not None
        if number is not None:
            number = await _number(interaction, on, level, number)
            if number is None:
                return
        if text is None:
            subject = number_of(on)
            if subject is None:
                await answer(interaction, "Name it by its number, such as #3, to get a form; or give the text here.")
                return
            await interaction.response.send_modal(RemarkForm(subject, level, number))
            return
        command = AddRemark(
            server=interaction.guild_id,
            member=interaction.user.id,
            subject=on,
            text=text,
            level=level,
            number=number,
            at=interaction.created_at,
        )
        await _posted(interaction, await interaction.client.call(add_remark, command))

    @app_commands.command(name="answer", description="Answer a remark; its author is told")
    @app_commands.describe(remark="The remark's number", text="Your answer", on="The build or proposal, for the list")
    @app_commands.autocomplete(remark=remark_ids)
    @app_commands.autocomplete(on=subjects)
    async def answer_(
        self, interaction: "discord.Interaction[Bot]", remark: int, text: TextOption, on: str = ""
    ) -> None:
        """Store an answer."""
        assert interaction.guild_id is not None
        command = AnswerRemark(
            server=interaction.guild_id,
            member=interaction.user.id,
            remark=remark,
            text=text,
            at=interaction.created_at,
        )
        await _posted(interaction, await interaction.client.call(answer_remark, command))

    @app_commands.command(name="edit", description="Change your own remark; the history keeps what it said")
    @app_commands.describe(remark="The remark's number", text="The new text", on="The build or proposal, for the list")
    @app_commands.autocomplete(remark=remark_ids)
    @app_commands.autocomplete(on=subjects)
    async def edit(self, interaction: "discord.Interaction[Bot]", remark: int, text: TextOption, on: str = "") -> None:
        """Change one's own remark."""
        assert interaction.guild_id is not None
        command = EditRemark(
            server=interaction.guild_id,
            member=interaction.user.id,
            remark=remark,
            text=text,
            at=interaction.created_at,
        )
        await _changed(interaction, await interaction.client.call(edit_remark, command), "changed")

    @app_commands.command(name="remove", description="Take your own remark away")
    @app_commands.describe(remark="The remark's number", on="The build or proposal, for the list")
    @app_commands.autocomplete(remark=remark_ids)
    @app_commands.autocomplete(on=subjects)
    async def remove(self, interaction: "discord.Interaction[Bot]", remark: int, on: str = "") -> None:
        """Take one's own remark away."""
        assert interaction.guild_id is not None
        command = RemoveRemark(
            server=interaction.guild_id, member=interaction.user.id, remark=remark, at=interaction.created_at
        )
        await _changed(interaction, await interaction.client.call(remove_remark, command), "taken away")

    @app_commands.command(name="settle", description="Mark a remark on your build as settled, or open again")
    @app_commands.describe(
        remark="The remark's number", reopen="Open it again", on="The build or proposal, for the list"
    )
    @app_commands.autocomplete(remark=remark_ids)
    @app_commands.autocomplete(on=subjects)
    async def settle(
        self, interaction: "discord.Interaction[Bot]", remark: int, reopen: bool = False, on: str = ""
    ) -> None:
        """Settle a remark on one's own build."""
        assert interaction.guild_id is not None
        command = SettleRemark(
            server=interaction.guild_id,
            member=interaction.user.id,
            remark=remark,
            settled=not reopen,
            at=interaction.created_at,
        )
        result = await interaction.client.call(settle_remark, command)
        await _changed(interaction, result, "open again" if reopen else "settled")

    @app_commands.command(name="list", description="The remarks on a build or proposal")
    @app_commands.describe(on="The build or proposal")
    @app_commands.autocomplete(on=subjects)
    async def list_(
        self, interaction: "discord.Interaction[Bot]", on: str, page: app_commands.Range[int, 1] = 1
    ) -> None:
        """List remarks, privately."""
        await show_remarks(interaction, on, page)


async def show_remarks(interaction: "discord.Interaction[Bot]", subject: str, page: int) -> None:
    """Answer privately with a page of the remarks on a build or proposal."""
    assert interaction.guild_id is not None
    command = ListRemarks(server=interaction.guild_id, member=interaction.user.id, subject=subject, page=page)
    found = await interaction.client.call(list_remarks, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return
    first = next(iter(found.items), None)
    title = f"{plain(first.title)} · #{first.subject}" if first else plain(subject)
    await show(interaction, cards.remarks_card(title, found), private=True)


async def _number(interaction: "discord.Interaction[Bot]", build: str, level: int | None, number: str) -> str | None:
    """Return what the number that a member means is called, or None after telling that there is none."""
    assert interaction.guild_id is not None
    command = ShowBuild(server=interaction.guild_id, member=interaction.user.id, build=build, level=level)
    shown = await interaction.client.call(show_build, command)
    if isinstance(shown, Refused):
        await refuse(interaction, shown)
        return None
    name = number_named(number, shown.sheet.numbers, shown.view.catalog)
    if name is None:
        near = nearest(number, shown.sheet.numbers)
        hint = f" Nearest: {', '.join(near)}." if near else ""
        await answer(interaction, f"No number of this build is called “{plain(number)}”.{hint}")
        return None
    return name_words(name, shown.view.catalog)


async def _posted(interaction: "discord.Interaction[Bot]", result: "RemarkView | Refused") -> None:
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    await post_remark(interaction, result)


async def _changed(interaction: "discord.Interaction[Bot]", result: "RemarkView | Refused", what: str) -> None:
    assert interaction.guild_id is not None
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    await answer(interaction, f"Remark {result.id} on #{result.subject} is {what}.")
    await redraw_all(interaction.client, interaction.guild_id, [result.subject])
