"""Forms of tables: the rules as YAML, remarks of a return, the reason of a waiver."""

from collections.abc import Sequence
from typing import Any, Final

import discord
from discord import ui

from bot.exts.builds.cards import SEVERITY_WORDS
from bot.exts.builds.forms import FIELD, typed
from bot.exts.table.sending import return_to_author, send_rules, waive
from bot.ui.escape import label
from bot.ui.guarded import GuardedModal
from engine.audit import Finding
from engine.review.approval import finding_key

MOST_OPTIONS: Final = 25
EXAMPLE: Final = "levels: 1-12\nscores: point buy\nhit_points: fixed\nfeats: yes"


class RulesForm(GuardedModal):
    """The rules of a table as YAML."""

    def __init__(self, table: int, text: str) -> None:
        super().__init__(f"Rules of table #{table}")
        self.table = table
        entry: ui.TextInput[Any] = ui.TextInput(
            style=discord.TextStyle.paragraph,
            default=text or None,
            placeholder=label(EXAMPLE.replace("\n", "; "), 100),
            required=False,
            max_length=FIELD,
        )
        self.text = ui.Label(text="Rules (YAML)", description="Lines such as: feats: no", component=entry)
        self.add_item(self.text)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Set the rules, or give the text back with everything that is wrong with it."""
        await send_rules(interaction, self.table, typed(self.text))


class ReturnForm(GuardedModal):
    """Send a build back with remarks."""

    def __init__(self, submission: int) -> None:
        super().__init__("Return to the author")
        self.submission = submission
        entry: ui.TextInput[Any] = ui.TextInput(style=discord.TextStyle.paragraph, max_length=2000)
        self.text = ui.Label(text="Remarks", description="What should change; the author reads it", component=entry)
        self.add_item(self.text)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Return the build."""
        await return_to_author(interaction, self.submission, typed(self.text))


class WaiveForm(GuardedModal):
    """Let a finding pass, with a reason."""

    def __init__(self, submission: int, findings: Sequence[Finding]) -> None:
        super().__init__("Waive a finding")
        self.submission = submission
        options = [
            discord.SelectOption(
                label=label(f"level {f.level}: {f.message}" if f.level else f.message, 100),
                value=finding_key(f),
                description=label(SEVERITY_WORDS[f.severity], 100),
            )
            for f in findings[:MOST_OPTIONS]
        ]
        options[0].default = len(options) == 1
        choice: ui.Select[Any] = ui.Select(options=options)
        self.finding = ui.Label(text="Finding", description="What you let pass", component=choice)
        entry: ui.TextInput[Any] = ui.TextInput(style=discord.TextStyle.paragraph, max_length=1000)
        self.reason = ui.Label(text="Reason", description="It stands with the approval", component=entry)
        self.add_item(self.finding)
        self.add_item(self.reason)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Waive the chosen finding."""
        assert isinstance(self.finding.component, ui.Select)
        chosen = self.finding.component.values
        await waive(interaction, self.submission, chosen[0] if chosen else "", typed(self.reason))
