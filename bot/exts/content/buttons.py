"""The button that moves a build to the version of a folio in use. Rights are read again at every press."""

import re
from typing import TYPE_CHECKING, Any, Final, Self

import discord
from discord import ui

from bot.exts.content.sending import move
from bot.ui.guarded import Guarded

if TYPE_CHECKING:
    from bot.client import Bot


class MoveButton(
    Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:move:(?P<build>\d+):(?P<folio>[a-z0-9.-]{1,60})"
):
    """Let a build use the version of a folio that is in use when it is pressed."""

    def __init__(self, build: int, folio: str) -> None:
        super().__init__(
            ui.Button(label=f"Move #{build}", style=discord.ButtonStyle.primary, custom_id=f"v1:move:{build}:{folio}")
        )
        self.build, self.folio = build, folio

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["build"]), match["folio"])

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Move it, or propose to where its approval asks for that."""
        await move(interaction, self.build, self.folio)


BUTTONS: Final = (MoveButton,)
