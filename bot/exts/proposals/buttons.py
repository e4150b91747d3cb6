"""Buttons of proposal cards. The id is the whole state, so they outlive restarts; rights are read at every press."""

import re
from typing import TYPE_CHECKING, Any, Final, Self

import discord
from discord import ui

from bot.exts.builds.forms import FIELD
from bot.exts.proposals import cards
from bot.exts.proposals.forms import DeclineForm, ProposeForm, RemarkForm
from bot.exts.proposals.notices import tell
from bot.exts.proposals.posting import chosen_place, live_card, post_card, redraw_all, redraw_others
from bot.ui.answer import answer, redraw, refuse, show, text_file
from bot.ui.card import Card
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.review.machine import State
from engine.review.policy import Choice, Decider
from engine.services.proposals import (
    AdoptProposal,
    AmendProposal,
    DeclineProposal,
    PostProposal,
    ReadProposed,
    RefreshProposal,
    ShowProposal,
    WithdrawProposal,
    adopt_proposal,
    amend_proposal,
    decline_proposal,
    post_proposal,
    read_proposed,
    refresh_proposal,
    show_proposal,
    withdraw_proposal,
)
from engine.services.votes import CastVote, cast_vote

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import ProposalView

VOTE_WORDS: Final = {Choice.FOR: "For", Choice.AGAINST: "Against", Choice.ABSTAIN: "Abstain"}


class VoteButton(
    Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:vote:(?P<proposal>\d+):(?P<choice>for|against|abstain)"
):
    """One vote on one proposal."""

    def __init__(self, proposal: int, choice: Choice) -> None:
        super().__init__(ui.Button(label=VOTE_WORDS[choice], custom_id=f"v1:vote:{proposal}:{choice.value}"))
        self.proposal, self.choice = proposal, choice

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["proposal"]), Choice(match["choice"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Store the vote, then show the tally in place."""
        assert interaction.guild_id is not None
        await interaction.response.defer()
        roles = frozenset(r.id for r in interaction.user.roles) if isinstance(interaction.user, discord.Member) else ()
        command = CastVote(
            server=interaction.guild_id,
            member=interaction.user.id,
            proposal=self.proposal,
            choice=self.choice,
            roles=frozenset(roles),
            at=interaction.created_at,
        )
        result = await interaction.client.call(cast_vote, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await drawn_again(interaction, self.proposal)


async def drawn_again(interaction: "discord.Interaction[Bot]", proposal: int) -> None:
    """Redraw the card that was pressed, then the others of the same proposal."""
    assert interaction.guild_id is not None
    drawn = await live_card(interaction.client, interaction.guild_id, proposal)
    if drawn is not None:
        await redraw(interaction, drawn[0])
    message = interaction.message.id if interaction.message is not None else None
    await redraw_others(interaction.client, interaction.guild_id, proposal, message)


class RemarkButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:remark:(?P<subject>\d+)"):
    """Open the form for a remark on record."""

    def __init__(self, subject: int) -> None:
        super().__init__(ui.Button(label="Remark", custom_id=f"v1:remark:{subject}"))
        self.subject = subject

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["subject"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the form; whether a remark is allowed is decided when it is sent."""
        await interaction.response.send_modal(RemarkForm(self.subject))


class DetailsButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:details:(?P<proposal>\d+)"):
    """The whole difference as text and file, privately."""

    def __init__(self, proposal: int) -> None:
        super().__init__(ui.Button(label="Details", custom_id=f"v1:details:{proposal}"))
        self.proposal = proposal

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["proposal"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer with everything that differs."""
        assert interaction.guild_id is not None
        command = ShowProposal(server=interaction.guild_id, member=interaction.user.id, proposal=self.proposal)
        view = await interaction.client.call(show_proposal, command)
        if isinstance(view, Refused):
            await refuse(interaction, view)
            return
        name = f"proposal-{view.number}.txt"
        card, text = cards.details(view, name)
        await show(interaction, card, private=True, files=[text_file(name, text)])


class DecideButton(
    Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:decide:(?P<proposal>\d+):(?P<what>adopt|decline|withdraw)"
):
    """Adopt, decline or withdraw a proposal."""

    def __init__(self, proposal: int, what: str) -> None:
        style = discord.ButtonStyle.success if what == "adopt" else discord.ButtonStyle.secondary
        button: ui.Button[Any] = ui.Button(
            label=what.capitalize(), style=style, custom_id=f"v1:decide:{proposal}:{what}"
        )
        super().__init__(button)
        self.proposal, self.what = proposal, what

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["proposal"]), match["what"])

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Decide; declining asks for a reason first."""
        if self.what == "decline":
            await interaction.response.send_modal(DeclineForm(self.proposal))
            return
        await end(interaction, self.proposal, self.what)


async def end(interaction: "discord.Interaction[Bot]", proposal: int, what: str, reason: str = "") -> None:
    """End a proposal from its card, then redraw that and the cards of whatever else it touched, and tell of it."""
    assert interaction.guild_id is not None
    bot, server = interaction.client, interaction.guild_id
    await interaction.response.defer()
    result = await decide(interaction, proposal, what, reason)
    if isinstance(result, Refused):
        await refuse(interaction, result)
        return
    await drawn_again(interaction, proposal)
    await redraw_all(bot, server, [result.view.number, *result.followed, *result.outdated])
    await tell(bot, server, result.notices, interaction)


async def decide(
    interaction: "discord.Interaction[Bot]", proposal: int | str, what: str, reason: str = ""
) -> "ProposalView | Refused":
    """Carry out one of the three ends of a proposal."""
    assert interaction.guild_id is not None
    bot, at = interaction.client, interaction.created_at
    server, member = interaction.guild_id, interaction.user.id
    manager = interaction.permissions.manage_guild
    if what == "adopt":
        return await bot.call(
            adopt_proposal,
            AdoptProposal(server=server, member=member, proposal=proposal, at=at, reason=reason, manager=manager),
        )
    if what == "decline":
        return await bot.call(
            decline_proposal,
            DeclineProposal(server=server, member=member, proposal=proposal, at=at, reason=reason, manager=manager),
        )
    return await bot.call(
        withdraw_proposal, WithdrawProposal(server=server, member=member, proposal=proposal, at=at, reason=reason)
    )


class RefreshButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:refresh:(?P<proposal>\d+)"):
    """Open the form that fits an outdated proposal to its build."""

    def __init__(self, proposal: int) -> None:
        super().__init__(ui.Button(label="Refresh", custom_id=f"v1:refresh:{proposal}"))
        self.proposal = proposal

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["proposal"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the form, for the proposer."""
        await open_again(interaction, self.proposal)


async def open_again(interaction: "discord.Interaction[Bot]", proposal: int | str) -> None:
    """Open the form of a member's own proposal with the text that it proposes, to refresh or amend it."""
    assert interaction.guild_id is not None
    command = ReadProposed(server=interaction.guild_id, member=interaction.user.id, proposal=proposal, own=True)
    found = await interaction.client.call(read_proposed, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return
    text, number = found.text, found.proposal
    if len(text.text) > FIELD:
        await answer(
            interaction,
            f"#{number} changes more than fits into a form. Take the outline of the build with /build outline, change "
            "it, and give it to /proposal refresh or /proposal amend as a file.",
        )
        return
    form = ProposeForm(text.build, text.name, text.part, text.text, found.reason, text.revision, instead=number)
    await interaction.response.send_modal(form)


class PutButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:put:(?P<proposal>\d+):(?P<draft>\d+)"):
    """Put a previewed text in the place of the member's own proposal."""

    def __init__(self, proposal: int, draft: int) -> None:
        button: ui.Button[Any] = ui.Button(
            label=f"Put it in the place of #{proposal}",
            style=discord.ButtonStyle.success,
            custom_id=f"v1:put:{proposal}:{draft}",
        )
        super().__init__(button)
        self.proposal, self.draft = proposal, draft

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["proposal"]), int(match["draft"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Refresh an outdated proposal, amend an open one."""
        assert interaction.guild_id is not None
        bot, server, member = interaction.client, interaction.guild_id, interaction.user.id
        await interaction.response.defer()
        shown = await bot.call(show_proposal, ShowProposal(server=server, member=member, proposal=self.proposal))
        result: ProposalView | Refused
        if not isinstance(shown, Refused) and shown.state is State.OUTDATED:
            refresh = RefreshProposal(
                server=server, member=member, proposal=self.proposal, draft=self.draft, at=interaction.created_at
            )
            result = await bot.call(refresh_proposal, refresh)
        else:
            amend = AmendProposal(
                server=server, member=member, proposal=self.proposal, draft=self.draft, at=interaction.created_at
            )
            result = await bot.call(amend_proposal, amend)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await redraw(interaction, Card(f"#{result.number} is changed", "Its card says so; whoever voted is told."))
        await redraw_all(bot, server, [result.number])
        await tell(bot, server, result.notices, interaction)
        bot.deadlines.wake()


class PostButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:post:(?P<draft>\d+)"):
    """Post a previewed proposal."""

    def __init__(self, draft: int) -> None:
        super().__init__(ui.Button(label="Post", style=discord.ButtonStyle.success, custom_id=f"v1:post:{draft}"))
        self.draft = draft

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["draft"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the proposal and post its card in the channel."""
        assert interaction.guild_id is not None
        bot, server = interaction.client, interaction.guild_id
        place = await chosen_place(interaction)
        if isinstance(place, Refused):
            await refuse(interaction, place)
            return
        await interaction.response.defer()
        command = PostProposal(server=server, member=interaction.user.id, draft=self.draft, at=interaction.created_at)
        result = await bot.call(post_proposal, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        bot.deadlines.wake()
        posted = await post_card(bot, server, place, result.number)
        if posted is None:
            await answer(interaction, f"Proposal #{result.number} is open; `/proposal show` posts its card.")
            return
        await redraw(
            interaction,
            Card(f"Posted as #{result.number}", f"Its card stands in <#{posted.channel}>; you can withdraw it there."),
        )
        await tell(bot, server, result.notices, interaction)


def proposal_rows(view: "ProposalView") -> list[list[ui.Item[Any]]]:
    """Return the buttons of a proposal's card; after the close only Details stays."""
    if view.state is State.OUTDATED:
        ends: list[ui.Item[Any]] = [RefreshButton(view.number), DecideButton(view.number, "withdraw")]
        if view.policy.decider is not Decider.VOTE:
            ends.insert(1, DecideButton(view.number, "decline"))
        return [[RemarkButton(view.number), DetailsButton(view.number)], ends]
    if view.state is not State.OPEN:
        return [[DetailsButton(view.number)]]
    votes: list[ui.Item[Any]] = [VoteButton(view.number, choice) for choice in VOTE_WORDS]
    rows = [[*votes, RemarkButton(view.number), DetailsButton(view.number)]]
    ends = []
    if view.policy.decider is not Decider.VOTE:
        ends += [DecideButton(view.number, "adopt"), DecideButton(view.number, "decline")]
    return [*rows, [*ends, DecideButton(view.number, "withdraw")]]


BUTTONS: Final = (VoteButton, RemarkButton, DetailsButton, DecideButton, RefreshButton, PutButton, PostButton)
