"""Buttons under an audit: the author's press mends a finding, anybody else's previews the change as a proposal."""

import re
from typing import TYPE_CHECKING, Any, Self

import discord
from discord import ui

from bot.exts.builds import cards
from bot.ui.answer import answer, redraw, refuse
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.services.mending import AuditBuild, MendFinding, PreviewMend, audit_build, mend_finding, preview_mend
from engine.services.views import AuditView

if TYPE_CHECKING:
    from bot.client import Bot


class MendButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:mend:(?P<build>\d+):(?P<finding>[0-9a-f]{12})"):
    """Do away with one finding. The id names what the audit said; whether it still says so is read at the press."""

    def __init__(self, build: int, finding: str, words: str = "Mend") -> None:
        super().__init__(ui.Button(label=words, custom_id=f"v1:mend:{build}:{finding}"))
        self.build, self.finding = build, finding

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["build"]), match["finding"])

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Mend the build and draw its audit anew, or preview a proposal."""
        assert interaction.guild_id is not None
        server, member, bot = interaction.guild_id, interaction.user.id, interaction.client
        command = MendFinding(
            server=server, member=member, build=self.build, finding=self.finding, at=interaction.created_at
        )
        result = await bot.call(mend_finding, command)
        if isinstance(result, Refused) and result.code == "not-allowed":
            await self._propose(interaction)
            return
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        from bot.exts.proposals.posting import redraw_all

        audited = await bot.call(audit_build, AuditBuild(server=server, member=member, build=self.build))
        if isinstance(audited, Refused):
            await refuse(interaction, audited)
            return
        await redraw(interaction, cards.audit_card(audited).with_rows(mend_row(audited)))
        await answer(
            interaction, f"Mended: {result.name} (#{result.number}) is at revision {result.revision.number} now."
        )
        await redraw_all(bot, server, [result.number, *result.followed, *result.outdated])

    async def _propose(self, interaction: "discord.Interaction[Bot]") -> None:
        from bot.exts.proposals.sending import show_preview

        assert interaction.guild_id is not None
        command = PreviewMend(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=self.build,
            finding=self.finding,
            at=interaction.created_at,
        )
        await show_preview(interaction, await interaction.client.call(preview_mend, command))


def mend_row(audited: AuditView) -> list[ui.Item[Any]]:
    """Return a button for each finding that can be mended, numbered as the card numbers them."""
    number = audited.view.number
    return [MendButton(number, mend.key, f"Mend {at}") for at, mend in enumerate(audited.mends, 1)]
