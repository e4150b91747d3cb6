"""Forms for proposing a change."""

from typing import TYPE_CHECKING, Any

import discord
from discord import ui

from bot.exts.builds.forms import line_field, text_field, typed
from bot.exts.proposals.sending import send_change, send_text
from bot.ui.answer import refuse
from bot.ui.guarded import GuardedModal
from engine.problem import Refused
from engine.services.remarks import AddRemark, add_remark

if TYPE_CHECKING:
    from engine.services.views import Part


class ProposeForm(GuardedModal):
    """Change a part of somebody's outline and say why."""

    def __init__(
        self,
        build: int,
        name: str,
        part: "Part",
        text: str,
        reason: str,
        revision: int | None,
        *,
        based_on: int | None = None,
        instead: int | None = None,
    ) -> None:
        where = f"Level {part}" if isinstance(part, int) else "Header" if part == "header" else "Outline"
        super().__init__(f"Propose: {where.lower()} of {name}" if instead is None else f"{where} in #{instead}")
        self.build, self.part, self.revision = build, part, revision
        self.based_on, self.instead = based_on, instead
        self.text = text_field(where, text, hint="Change what you would change; the rest stays")
        self.reason = line_field("Reason", reason, hint="One line: what it is for", required=True)
        self.add_item(self.text)
        self.add_item(self.reason)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Show the proposer the difference privately."""
        await send_text(
            interaction,
            self.build,
            self.part,
            typed(self.text),
            typed(self.reason),
            self.revision,
            based_on=self.based_on,
            instead=self.instead,
        )


class ChangeForm(GuardedModal):
    """Change a proposed change again, before it is posted."""

    def __init__(
        self,
        build: int,
        level: int,
        remove: str,
        add: str,
        reason: str,
        *,
        based_on: int | None = None,
        instead: int | None = None,
    ) -> None:
        super().__init__(f"Propose a change at level {level}")
        self.build, self.level = build, level
        self.based_on, self.instead = based_on, instead
        self.remove = line_field("Remove", remove, hint="as it stands in the outline, such as: spell Fog Cloud")
        self.add = line_field("Add", add, hint="as in the outline, such as: spell Longstrider")
        self.reason = line_field("Reason", reason, hint="One line: what it is for", required=True)
        for field in (self.remove, self.add, self.reason):
            self.add_item(field)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Show the proposer the difference privately."""
        await send_change(
            interaction,
            self.build,
            self.level,
            typed(self.remove),
            typed(self.add),
            typed(self.reason),
            based_on=self.based_on,
            instead=self.instead,
        )


class RemarkForm(GuardedModal):
    """Say something on record about a build or proposal. level, number: what of the build it is about, if so."""

    def __init__(self, subject: int, level: int | None = None, number: str | None = None) -> None:
        super().__init__(f"Remark on #{subject}" + (f", level {level}" if level else ""))
        self.subject, self.level, self.number = subject, level, number
        entry: ui.TextInput[Any] = ui.TextInput(style=discord.TextStyle.paragraph, max_length=1000)
        self.text = ui.Label(text="Your remark", description="Kept on record, under your name", component=entry)
        self.add_item(self.text)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Store the remark and post it in the card's thread."""
        from bot.exts.proposals.posting import post_remark

        assert interaction.guild_id is not None
        command = AddRemark(
            server=interaction.guild_id,
            member=interaction.user.id,
            subject=self.subject,
            text=typed(self.text),
            level=self.level,
            number=self.number,
            at=interaction.created_at,
        )
        result = await interaction.client.call(add_remark, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await post_remark(interaction, result)


class DeclineForm(GuardedModal):
    """Decline a proposal and say why."""

    def __init__(self, proposal: int) -> None:
        super().__init__(f"Decline #{proposal}")
        self.proposal = proposal
        self.reason = line_field("Reason", "", hint="One line that its proposer and the voters will read")
        self.add_item(self.reason)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Decline it, if the member may."""
        from bot.exts.proposals.buttons import end

        await end(interaction, self.proposal, "decline", typed(self.reason))
