"""`/propose` and `/proposal`."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete as build_complete
from bot.exts.builds.commands import MAX_FILE, LevelOption
from bot.exts.builds.forms import FIELD
from bot.exts.builds.sending import read_attachment
from bot.exts.proposals import cards, complete
from bot.exts.proposals.buttons import decide, open_again
from bot.exts.proposals.forms import ProposeForm
from bot.exts.proposals.notices import tell
from bot.exts.proposals.posting import answer_with_live_card, redraw_all
from bot.exts.proposals.sending import send_change, send_text
from bot.ui.answer import answer, refuse, show
from engine.problem import Refused
from engine.review.machine import State
from engine.services.builds import ReadPart, read_part
from engine.services.proposals import (
    ListProposals,
    ReadProposed,
    ShowProposal,
    list_proposals,
    read_proposed,
    show_proposal,
)
from engine.services.rivals import CompareProposals, compare_proposals

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import Part


class ProposeCommands(app_commands.Group):
    """The `/propose` commands."""

    def __init__(self) -> None:
        super().__init__(name="propose", description="Suggest a change to a shared build")

    @app_commands.command(name="text", description="Suggest a change by rewriting a part of the outline")
    @app_commands.describe(
        build="The build",
        level="The level to change; leave it out for the header",
        file="A whole changed outline instead of the form",
        reason="What the change is for (with a file)",
        based_on="Another proposal whose changes you start from",
    )
    @app_commands.rename(based_on="based-on")
    @app_commands.autocomplete(build=build_complete.builds, based_on=complete.proposals)
    async def text(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        level: LevelOption | None = None,
        file: discord.Attachment | None = None,
        reason: app_commands.Range[str, 1, 300] | None = None,
        based_on: str | None = None,
    ) -> None:
        """Open a form filled with a part of the outline, or preview a whole outline."""
        assert interaction.guild_id is not None
        part: Part = "whole" if file is not None else "header" if level is None else level
        if based_on is not None:
            chosen = None if file is None and level is None else part
            await propose_on(interaction, based_on, chosen, file, reason or "")
            return
        command = ReadPart(server=interaction.guild_id, member=interaction.user.id, build=build, part=part)
        found = await interaction.client.call(read_part, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
        elif file is None:
            form = ProposeForm(found.build, found.name, part, found.text, reason or "", found.revision)
            await interaction.response.send_modal(form)
        else:
            text = await read_attachment(interaction, file, MAX_FILE)
            if text is not None:
                await send_text(interaction, found.build, "whole", text, reason or "", found.revision)

    @app_commands.command(name="change", description="Suggest removing one thing and adding another at a level")
    @app_commands.describe(
        build="The build",
        level="The level",
        reason="What the change is for",
        remove="What to take away, as listed",
        add="What to put there, as listed",
        based_on="Another proposal whose changes you start from",
    )
    @app_commands.rename(based_on="based-on")
    @app_commands.autocomplete(
        build=build_complete.builds, remove=complete.there, add=complete.legal, based_on=complete.proposals
    )
    async def change(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        level: LevelOption,
        reason: app_commands.Range[str, 1, 300],
        remove: str = "",
        add: str = "",
        based_on: str | None = None,
    ) -> None:
        """Preview a change that needs no outline text."""
        if not remove and not add:
            await answer(interaction, "Say what to remove, what to add, or both; the lists offer what fits.")
            return
        await send_change(interaction, build, level, remove, add, reason, based_on=based_on)


class ProposalCommands(app_commands.Group):
    """The `/proposal` commands."""

    def __init__(self) -> None:
        super().__init__(name="proposal", description="Read and decide proposals")

    @app_commands.command(name="list", description="Proposals on this server")
    @app_commands.describe(build="Only to this build", state="Only in this state; open ones if left out")
    @app_commands.autocomplete(build=build_complete.builds)
    async def list_(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str | None = None,
        state: State = State.OPEN,
        page: app_commands.Range[int, 1] = 1,
    ) -> None:
        """List proposals, newest first, privately."""
        assert interaction.guild_id is not None
        command = ListProposals(
            server=interaction.guild_id, member=interaction.user.id, build=build, state=state, page=page
        )
        found = await interaction.client.call(list_proposals, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, cards.list_card(found, state), private=True)

    @app_commands.command(name="show", description="A proposal's card, posted here with its buttons")
    @app_commands.describe(proposal="The proposal, by number or title")
    @app_commands.autocomplete(proposal=complete.proposals)
    async def show_(self, interaction: "discord.Interaction[Bot]", proposal: str) -> None:
        """Post the live card of a proposal."""
        assert interaction.guild_id is not None
        command = ShowProposal(server=interaction.guild_id, member=interaction.user.id, proposal=proposal)
        view = await interaction.client.call(show_proposal, command)
        if isinstance(view, Refused):
            await refuse(interaction, view)
            return
        await answer_with_live_card(interaction, view.number)

    @app_commands.command(name="withdraw", description="Take back your own proposal")
    @app_commands.describe(proposal="Your proposal")
    @app_commands.autocomplete(proposal=complete.proposals)
    async def withdraw(self, interaction: "discord.Interaction[Bot]", proposal: str) -> None:
        """Withdraw a proposal of one's own."""
        assert interaction.guild_id is not None
        bot, server = interaction.client, interaction.guild_id
        result = await decide(interaction, proposal, "withdraw")
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await answer(interaction, f"Proposal #{result.number} is withdrawn.")
        await redraw_all(bot, server, [result.number])
        await tell(bot, server, result.notices, interaction)

    @app_commands.command(name="mine", description="The proposals that you made")
    @app_commands.describe(state="Only in this state; all of them if left out")
    async def mine(
        self,
        interaction: "discord.Interaction[Bot]",
        state: State | None = None,
        page: app_commands.Range[int, 1] = 1,
    ) -> None:
        """List one's own proposals, newest first, privately."""
        assert interaction.guild_id is not None
        member = interaction.user.id
        command = ListProposals(server=interaction.guild_id, member=member, proposer=member, state=state, page=page)
        found = await interaction.client.call(list_proposals, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, cards.list_card(found, state), private=True)

    @app_commands.command(name="amend", description="Change your own proposal while nobody has voted on it")
    @app_commands.describe(
        proposal="Your proposal",
        file="A whole changed outline instead of the form",
        reason="What it is for (with a file)",
    )
    @app_commands.autocomplete(proposal=complete.proposals)
    async def amend(
        self,
        interaction: "discord.Interaction[Bot]",
        proposal: str,
        file: discord.Attachment | None = None,
        reason: app_commands.Range[str, 1, 300] | None = None,
    ) -> None:
        """Open the form with the text that the proposal proposes."""
        await change_own(interaction, proposal, file, reason)

    @app_commands.command(name="refresh", description="Fit your outdated proposal to the build as it is now")
    @app_commands.describe(
        proposal="Your proposal",
        file="A whole changed outline instead of the form",
        reason="What it is for (with a file)",
    )
    @app_commands.autocomplete(proposal=complete.proposals)
    async def refresh(
        self,
        interaction: "discord.Interaction[Bot]",
        proposal: str,
        file: discord.Attachment | None = None,
        reason: app_commands.Range[str, 1, 300] | None = None,
    ) -> None:
        """Open the form with the text that the proposal proposes."""
        await change_own(interaction, proposal, file, reason)

    @app_commands.command(name="rivals", description="Two proposals to one build side by side")
    @app_commands.describe(proposal="One proposal", other="The other proposal", level="Only at this level")
    @app_commands.autocomplete(proposal=complete.proposals, other=complete.proposals)
    async def rivals(
        self,
        interaction: "discord.Interaction[Bot]",
        proposal: str,
        other: str,
        level: LevelOption | None = None,
    ) -> None:
        """Show what each of two proposals does to the numbers, and whether both can be adopted."""
        assert interaction.guild_id is not None
        command = CompareProposals(
            server=interaction.guild_id, member=interaction.user.id, proposal=proposal, other=other
        )
        found = await interaction.client.call(compare_proposals, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, cards.rivals_card(found, level))


async def propose_on(
    interaction: "discord.Interaction[Bot]",
    based_on: str,
    part: "Part | None",
    file: discord.Attachment | None,
    reason: str,
) -> None:
    """Open the form, or read the file, of a proposal that starts from another. part None: what that one changes."""
    assert interaction.guild_id is not None
    command = ReadProposed(server=interaction.guild_id, member=interaction.user.id, proposal=based_on, part=part)
    found = await interaction.client.call(read_proposed, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return
    text = found.text
    if file is not None:
        outline = await read_attachment(interaction, file, MAX_FILE)
        if outline is not None:
            await send_text(interaction, text.build, "whole", outline, reason, text.revision, based_on=found.proposal)
    elif len(text.text) > FIELD:
        await answer(interaction, f"#{found.proposal} changes more than fits into a form; name a level of it.")
    else:
        form = ProposeForm(text.build, text.name, text.part, text.text, reason, text.revision, based_on=found.proposal)
        await interaction.response.send_modal(form)


async def change_own(
    interaction: "discord.Interaction[Bot]", proposal: str, file: discord.Attachment | None, reason: str | None
) -> None:
    """Open the form of one's own proposal, or preview a whole outline in its place."""
    if file is None:
        await open_again(interaction, proposal)
        return
    assert interaction.guild_id is not None
    command = ReadProposed(
        server=interaction.guild_id, member=interaction.user.id, proposal=proposal, part="whole", own=True
    )
    found = await interaction.client.call(read_proposed, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return
    outline = await read_attachment(interaction, file, MAX_FILE)
    if outline is not None:
        text, why = found.text, reason or found.reason
        await send_text(interaction, text.build, "whole", outline, why, text.revision, instead=found.proposal)
