"""The button that confirms an erase."""

import re
from typing import TYPE_CHECKING, Any, Final, Literal, Self

import discord
from discord import ui

from bot.exts.proposals.posting import redraw_all
from bot.ui.answer import answer, redraw, refuse
from bot.ui.card import Card, block
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.services.privacy import EraseMember, erase_member

if TYPE_CHECKING:
    from bot.client import Bot


class EraseButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:erase:(?P<member>\d+):(?P<builds>stay|go)"):
    """Erase the member whose card it is; nobody else's press does anything."""

    def __init__(self, member: int, builds: Literal["stay", "go"]) -> None:
        button: ui.Button[Any] = ui.Button(
            label="Erase me", style=discord.ButtonStyle.danger, custom_id=f"v1:erase:{member}:{builds}"
        )
        super().__init__(button)
        self.member, self.builds = member, builds

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["member"]), "go" if match["builds"] == "go" else "stay")

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Erase, say what was done, and redraw the cards that named the member."""
        assert interaction.guild_id is not None
        if interaction.user.id != self.member:
            await answer(
                interaction, "Only the member whom this would erase can press it; use /privacy erase yourself."
            )
            return
        await interaction.response.defer()
        command = EraseMember(
            server=interaction.guild_id, member=self.member, builds=self.builds, at=interaction.created_at
        )
        result = await interaction.client.call(erase_member, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        lines = [
            f"Builds deleted: {_numbers(result.went)}",
            f"Builds handed to a co-author: {_numbers(result.handed)}",
            f"Builds kept without an author: {_numbers(result.stayed)}",
            "Your votes stay counted, under no name. Messages in channels are the platform's; delete yours there.",
        ]
        await redraw(interaction, Card("You are erased here", "Your id and name are gone.", (block(*lines),)))
        await redraw_all(interaction.client, interaction.guild_id, result.touched)


def _numbers(numbers: tuple[int, ...]) -> str:
    return ", ".join(f"#{number}" for number in numbers) or "none"


BUTTONS: Final = (EraseButton,)
