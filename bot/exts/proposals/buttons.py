"""Buttons of proposal cards. The id is the whole state, so they outlive restarts; rights are read at every press."""

import re
from typing import TYPE_CHECKING, Any, Final, Self

import discord
from discord import ui

from bot.exts.proposals import cards
from bot.exts.proposals.forms import RemarkForm
from bot.exts.proposals.posting import live_card, missing_permissions, post_card, redraw_all
from bot.ui.answer import answer, redraw, refuse, show, text_file
from bot.ui.card import Card
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.review.machine import State
from engine.review.policy import Choice, Decider
from engine.services.proposals import (
    AdoptProposal,
    DeclineProposal,
    PostProposal,
    ShowProposal,
    WithdrawProposal,
    adopt_proposal,
    decline_proposal,
    post_proposal,
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
        drawn = await live_card(interaction.client, interaction.guild_id, self.proposal)
        if drawn is not None:
            await redraw(interaction, drawn[0])


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
        """Decide, then redraw this card and those of whatever else it touched."""
        assert interaction.guild_id is not None
        bot, server = interaction.client, interaction.guild_id
        await interaction.response.defer()
        result = await decide(bot, server, interaction.user.id, self.proposal, self.what, interaction)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        drawn = await live_card(bot, server, self.proposal)
        if drawn is not None:
            await redraw(interaction, drawn[0])
        touched = [result.view.number, *result.followed, *result.outdated]
        await redraw_all(bot, server, touched)


async def decide(
    bot: "Bot", server: int, member: int, proposal: int | str, what: str, interaction: discord.Interaction[Any]
) -> "ProposalView | Refused":
    """Carry out one of the three ends of a proposal."""
    at = interaction.created_at
    if what == "adopt":
        return await bot.call(adopt_proposal, AdoptProposal(server=server, member=member, proposal=proposal, at=at))
    if what == "decline":
        return await bot.call(decline_proposal, DeclineProposal(server=server, member=member, proposal=proposal, at=at))
    return await bot.call(withdraw_proposal, WithdrawProposal(server=server, member=member, proposal=proposal, at=at))


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
        assert interaction.channel_id is not None
        bot, server = interaction.client, interaction.guild_id
        trouble = missing_permissions(interaction)
        if trouble is not None:
            await refuse(interaction, trouble)
            return
        await interaction.response.defer()
        command = PostProposal(server=server, member=interaction.user.id, draft=self.draft, at=interaction.created_at)
        result = await bot.call(post_proposal, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        place = await post_card(bot, server, interaction.channel_id, result.number)
        if place is None:
            await answer(interaction, f"Proposal #{result.number} is open; `/proposal show` posts its card.")
            return
        await redraw(
            interaction,
            Card(f"Posted as #{result.number}", "Its card stands in the channel; you can withdraw it there."),
        )


def proposal_rows(view: "ProposalView") -> list[list[ui.Item[Any]]]:
    """Return the buttons of a proposal's card; after the close only Details stays."""
    if view.state is State.OUTDATED:
        return [[RemarkButton(view.number), DetailsButton(view.number), DecideButton(view.number, "withdraw")]]
    if view.state is not State.OPEN:
        return [[DetailsButton(view.number)]]
    votes: list[ui.Item[Any]] = [VoteButton(view.number, choice) for choice in VOTE_WORDS]
    rows = [[*votes, RemarkButton(view.number), DetailsButton(view.number)]]
    ends: list[ui.Item[Any]] = []
    if view.policy.decider is not Decider.VOTE:
        ends += [DecideButton(view.number, "adopt"), DecideButton(view.number, "decline")]
    return [*rows, [*ends, DecideButton(view.number, "withdraw")]]


BUTTONS: Final = (VoteButton, RemarkButton, DetailsButton, DecideButton, PostButton)
