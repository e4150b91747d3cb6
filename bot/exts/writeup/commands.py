"""The `/writeup` commands. Answers go to the author alone; texts are read in a worker process."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete
from bot.exts.weigh.commands import build_meant
from bot.exts.writeup import cards
from bot.ui.answer import answer, refuse, show, text_file
from bot.ui.apart import apart
from bot.ui.escape import paragraph
from engine.problem import Refused
from engine.publish.writeup import LONGEST, decoded, strip
from engine.services.library import parcel
from engine.services.writeups import (
    GetWriteup,
    KeepWriteup,
    check_again,
    check_of,
    draft_of,
    fill_of,
    get_writeup,
    keep_writeup,
)

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import BuildView


class WriteupCommands(app_commands.Group):
    """The `/writeup` commands."""

    def __init__(self) -> None:
        super().__init__(name="writeup", description="A write-up of a build whose every number is right")

    @app_commands.command(name="draft", description="The level-by-level frame of a build, every number marked")
    @app_commands.describe(build="The build")
    @app_commands.autocomplete(build=complete.builds)
    async def draft(self, interaction: "discord.Interaction[Bot]", build: str) -> None:
        """Give the frame as a file."""
        view = await build_meant(interaction, build)
        if view is None:
            return
        text = await apart(interaction, draft_of, parcel(view.build, view.catalog), private=True)
        if isinstance(text, str):
            await show(interaction, cards.draft_card(view), files=[text_file(cards.DRAFT_FILE, text)])

    @app_commands.command(
        name="check", description="Which numbers of a write-up are right; without a file, the last one"
    )
    @app_commands.describe(build="The build", file="The write-up as a Markdown file; leave it out for the kept one")
    @app_commands.autocomplete(build=complete.builds)
    async def check(
        self, interaction: "discord.Interaction[Bot]", build: str, file: discord.Attachment | None = None
    ) -> None:
        """Check a text against the build as it is now; the author's own is kept and can be checked again."""
        if file is None:
            await _again(interaction, build)
            return
        view = await build_meant(interaction, build)
        text = await _read(interaction, file) if view is not None else None
        if view is None or text is None:
            return
        found = await apart(interaction, check_of, parcel(view.build, view.catalog), text, private=True)
        if found is not None:
            kept = await _keep(interaction, view, text)
            await show(interaction, cards.checked_card(view, found, kept))

    @app_commands.command(name="fill", description="Put the right numbers into a write-up; nothing else is touched")
    @app_commands.describe(build="The build", file="The write-up as a Markdown file")
    @app_commands.autocomplete(build=complete.builds)
    async def fill(self, interaction: "discord.Interaction[Bot]", build: str, file: discord.Attachment) -> None:
        """Give the text back with its numbers put right."""
        view = await build_meant(interaction, build)
        text = await _read(interaction, file) if view is not None else None
        if view is None or text is None:
            return
        found = await apart(interaction, fill_of, parcel(view.build, view.catalog), text, private=True)
        if found is not None:
            await show(interaction, cards.filled_card(view, found), files=[text_file(cards.FILLED_FILE, found.text)])

    @app_commands.command(name="strip", description="The text to publish: every mark replaced by its own number")
    @app_commands.describe(file="The write-up as a Markdown file")
    async def strip(self, interaction: "discord.Interaction[Bot]", file: discord.Attachment) -> None:
        """Give the text back without its marks."""
        text = await _read(interaction, file)
        bare = await apart(interaction, strip, text, private=True) if text is not None else None
        if bare is not None:
            await show(interaction, cards.STRIPPED, files=[text_file(cards.STRIPPED_FILE, bare)])


async def _again(interaction: "discord.Interaction[Bot]", build: str) -> None:
    """Check the kept text and tell what became wrong since it was checked."""
    assert interaction.guild_id is not None
    command = GetWriteup(server=interaction.guild_id, member=interaction.user.id, build=build)
    kept = await interaction.client.call(get_writeup, command)
    if isinstance(kept, Refused):
        await refuse(interaction, kept)
        return
    now = parcel(kept.view.build, kept.view.catalog)
    moved = await apart(interaction, check_again, kept.document, now, kept.text, private=True)
    if moved is not None:
        await show(interaction, cards.again_card(kept.view, moved.checked, moved.became, kept.revision))


async def _keep(interaction: "discord.Interaction[Bot]", view: "BuildView", text: str) -> str:
    """Keep a text that was checked, and return in words what was kept."""
    assert interaction.guild_id is not None
    command = KeepWriteup(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=view.number,
        text=text,
        revision=view.revision.number,
        at=interaction.created_at,
    )
    kept = await interaction.client.call(keep_writeup, command)
    if isinstance(kept, Refused):
        return "" if kept.code == "not-allowed" else kept.sentence
    return "Kept: when the build moves on, /writeup check without a file says what became wrong."


async def _read(interaction: "discord.Interaction[Bot]", file: discord.Attachment) -> str | None:
    """Return the text of an attachment, or None after telling the member what is wrong with it."""
    if file.size > LONGEST:
        await answer(
            interaction,
            f"That file has {file.size / 1_000_000:.1f} MB; a write-up may have {LONGEST // 1_000_000} MB. Split it by "
            "levels, or take pictures out of it.",
        )
        return None
    text = decoded(await file.read())
    if isinstance(text, Refused):
        await answer(interaction, paragraph(f"{text.sentence[:1].upper()}{text.sentence[1:]}."))
        return None
    return text
