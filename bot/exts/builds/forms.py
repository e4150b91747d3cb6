"""Forms for outline text. A field holds 4,000 characters, so a whole build takes one for the header and three more."""

from typing import TYPE_CHECKING, Any, Final

import discord
from discord import ui

from bot.exts.builds.sending import send_edit, send_load
from bot.ui.escape import label
from bot.ui.guarded import GuardedModal

if TYPE_CHECKING:
    from engine.services.views import Part

FIELD: Final = 4000
LEVEL_FIELDS: Final = 3


def text_field(name: str, text: str, *, hint: str = "", required: bool = True) -> ui.Label[Any]:
    """Return a labelled field for outline text, filled in."""
    entry: ui.TextInput[Any] = ui.TextInput(
        style=discord.TextStyle.paragraph, default=text[:FIELD] or None, required=required, max_length=FIELD
    )
    return ui.Label(text=label(name, 45), description=label(hint, 100) or None, component=entry)


def line_field(name: str, text: str, *, hint: str = "", required: bool = False) -> ui.Label[Any]:
    """Return a labelled field for one line."""
    entry: ui.TextInput[Any] = ui.TextInput(default=text[:300] or None, required=required, max_length=300)
    return ui.Label(text=label(name, 45), description=label(hint, 100) or None, component=entry)


def typed(field: ui.Label[Any]) -> str:
    """Return what was typed into a field."""
    assert isinstance(field.component, ui.TextInput)
    return field.component.value or ""


def split_outline(text: str) -> list[str] | None:
    """Return the header and three parts of the level lines, each short enough for a field; None if it is too long."""
    header: list[str] = []
    levels: list[str] = []
    for line in text.splitlines():
        (levels if levels or line.strip()[:1].isdigit() else header).append(line)
    parts = ["\n".join(header)]
    chunk: list[str] = []
    for line in levels:
        if sum(len(kept) + 1 for kept in chunk) + len(line) > FIELD - 200:
            parts.append("\n".join(chunk))
            chunk = []
        chunk.append(line)
    parts.append("\n".join(chunk))
    if len(parts) > 1 + LEVEL_FIELDS or any(len(p) > FIELD for p in parts):
        return None
    return parts + [""] * (1 + LEVEL_FIELDS - len(parts))


class LoadForm(GuardedModal):
    """Paste a whole build."""

    def __init__(self, text: str = "") -> None:
        super().__init__("Post a build")
        parts = split_outline(text) or ["", "", "", ""]
        self.header = text_field("Header", parts[0], hint="Build, Concept, Rules, Scores, Species, Background, Gear...")
        self.levels = [
            text_field(name, part, hint=hint, required=False)
            for name, part, hint in (
                ("Level lines", parts[1], "such as: 1 Rogue: skills Stealth, Insight; expertise Stealth"),
                ("More level lines", parts[2], "if the first field is full"),
                ("More level lines still", parts[3], "if both are full"),
            )
        ]
        for field in (self.header, *self.levels):
            self.add_item(field)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Post the build made of all fields."""
        text = "\n".join(part for part in map(typed, (self.header, *self.levels)) if part)
        await send_load(interaction, text)


class EditForm(GuardedModal):
    """Change the header or one level line of one's own build."""

    def __init__(self, build: int, name: str, part: "Part", text: str, reason: str, revision: int | None) -> None:
        where = f"Level {part}" if isinstance(part, int) else "Header" if part == "header" else "Outline"
        super().__init__(f"{where} of {name}")
        self.build, self.part, self.revision = build, part, revision
        self.text = text_field(where, text)
        self.reason = line_field("Reason", reason, hint="one line for the history")
        self.add_item(self.text)
        self.add_item(self.reason)

    async def send(self, interaction: discord.Interaction[Any]) -> None:
        """Store the changed part as a new revision."""
        await send_edit(interaction, self.build, self.part, typed(self.text), typed(self.reason), self.revision)
