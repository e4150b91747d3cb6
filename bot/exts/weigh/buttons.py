"""The button under a build's card that draws its numbers over the levels."""

import re
from typing import TYPE_CHECKING, Any, Final, Self

import discord
from discord import ui

from bot.exts.weigh.drawing import answer_curve, numbers_of_interest
from bot.ui.answer import refuse
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.services.builds import GetBuild, get_build

if TYPE_CHECKING:
    from bot.client import Bot


class CurveButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:curve:(?P<build>\d+)"):
    """See the numbers of the build's goals, and the usual ones, over its levels: privately."""

    def __init__(self, build: int) -> None:
        super().__init__(ui.Button(label="Curve", custom_id=f"v1:curve:{build}"))
        self.build = build

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["build"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer with the picture."""
        assert interaction.guild_id is not None
        command = GetBuild(server=interaction.guild_id, member=interaction.user.id, build=self.build)
        view = await interaction.client.call(get_build, command)
        if isinstance(view, Refused):
            await refuse(interaction, view)
            return
        await answer_curve(interaction, [view], numbers_of_interest(view.build), private=True)


BUTTONS: Final = (CurveButton,)
