"""What happens to outline text that a member sent: stored and shown, or given back with all its errors."""

from typing import TYPE_CHECKING, Any

import discord

from bot.exts.builds import cards
from bot.ui.answer import answer, refuse, show, text_file
from bot.ui.card import Card, block
from bot.ui.escape import plain
from engine.problem import Refused
from engine.services.builds import EditBuild, LoadBuild, ShowBuild, edit_build, load_build, show_build
from engine.services.views import BuildView, Part, ShownBuild, TextErrors

if TYPE_CHECKING:
    from bot.client import Bot

SHOWN_ERRORS = 10


def errors_card(found: TextErrors) -> Card:
    """Return the card of a text that could not be read: its errors, the text as a file, and a way back."""
    from bot.exts.builds.buttons import AgainButton

    count = len(found.errors)
    lines = [f"Line {e.line}, column {e.column}: {plain(e.sentence)}" for e in found.errors[:SHOWN_ERRORS]]
    if count > SHOWN_ERRORS:
        lines.append(f"and {count - SHOWN_ERRORS} more")
    return Card(
        f"{count} {'thing' if count == 1 else 'things'} to mend",
        "Nothing was stored. Your text is kept here and in the file below.",
        (block(*lines),),
        rows=((AgainButton(found.draft),),),
        files=("outline.txt",),
    )


async def give_back(interaction: "discord.Interaction[Any]", found: TextErrors) -> None:
    """Give a member the errors of a text privately, the text as a file, and a button that opens the form again."""
    await show(interaction, errors_card(found), private=True, files=[text_file("outline.txt", found.text)])


async def send_load(interaction: "discord.Interaction[Bot]", text: str) -> None:
    """Store a new build from its outline and show it to its author alone: it is a draft until shared."""
    assert interaction.guild_id is not None
    command = LoadBuild(server=interaction.guild_id, member=interaction.user.id, text=text, at=interaction.created_at)
    result = await interaction.client.call(load_build, command)
    await _told(interaction, result)


async def send_edit(
    interaction: "discord.Interaction[Bot]", build: int, part: Part, text: str, reason: str, revision: int | None
) -> None:
    """Store a changed part of one's own build and show the new revision."""
    assert interaction.guild_id is not None
    command = EditBuild(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=build,
        part=part,
        text=text,
        reason=reason,
        revision=revision,
        at=interaction.created_at,
    )
    result = await interaction.client.call(edit_build, command)
    await _told(interaction, result)
    if isinstance(result, BuildView):
        from bot.exts.proposals.notices import tell
        from bot.exts.proposals.posting import redraw_all

        await redraw_all(interaction.client, interaction.guild_id, [result.number, *result.followed, *result.outdated])
        await tell(interaction.client, interaction.guild_id, result.notices, interaction)


async def _told(interaction: "discord.Interaction[Bot]", result: BuildView | TextErrors | Refused) -> None:
    if isinstance(result, Refused):
        await refuse(interaction, result)
    elif isinstance(result, TextErrors):
        await give_back(interaction, result)
    else:
        assert interaction.guild_id is not None
        shown = await interaction.client.call(
            show_build,
            ShowBuild(server=interaction.guild_id, member=interaction.user.id, build=result.number),
        )
        await show_own(interaction, shown)


async def show_own(interaction: "discord.Interaction[Bot]", shown: ShownBuild | Refused) -> None:
    """Show a member's own build to that member alone, with the buttons of its card."""
    from bot.exts.builds.buttons import build_rows

    if isinstance(shown, Refused):
        await refuse(interaction, shown)
        return
    card = cards.build_card(shown).with_rows(*build_rows(shown))
    await show(interaction, card, private=True)


async def read_attachment(interaction: "discord.Interaction[Any]", file: discord.Attachment, limit: int) -> str | None:
    """Return the text of an attachment, or None after telling the member what is wrong with it."""
    if file.size > limit:
        sentence = f"That file has {file.size // 1024} KB; a build is a short text of at most {limit // 1024} KB."
    elif file.size == 0:
        sentence = "That file is empty; attach the outline of a build as a text file."
    else:
        data = await file.read()
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = "\x00"
        if "\x00" not in text and text.strip():
            return text
        sentence = "That file is no plain text; save the outline as a text file (UTF-8) and attach that."
    await answer(interaction, sentence)
    return None
