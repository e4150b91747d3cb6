"""`/build sheet`, `export`, `import` and `archive`: a build on paper, as data, and everything of a server."""

import io
from typing import TYPE_CHECKING, Any, Final, Literal

import discord
from discord import app_commands

from bot.exts.builds import complete
from bot.exts.builds.sending import read_attachment, send_load
from bot.ui.answer import refuse, show, text_file
from bot.ui.apart import apart
from bot.ui.card import Card, Picture, block
from bot.ui.escape import plain
from engine.build.outline import print_outline
from engine.problem import Refused
from engine.services.archive import ReadArchive, read_archive
from engine.services.builds import GetBuild, get_build
from engine.services.exports import ReadExport, read_export
from engine.services.library import parcel
from engine.services.packing import packed
from engine.services.sheets import LONGEST_DOCUMENT, exported, plan_of, schema_text, sheet_of

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import BuildView

MAX_ARCHIVE: Final = 8_000_000
_PICTURE: Final = "sheet.png"


async def _meant(interaction: "discord.Interaction[Bot]", build: str) -> "BuildView | None":
    assert interaction.guild_id is not None
    command = GetBuild(server=interaction.guild_id, member=interaction.user.id, build=build)
    found = await interaction.client.call(get_build, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return None
    return found


@app_commands.command(name="sheet", description="The sheet of a build as PDF, or the plan of all its levels")
@app_commands.describe(
    build="The build",
    level="Character level; the last one if left out",
    paper="Size of the paper",
    plan="The plan of all twenty levels instead",
)
@app_commands.autocomplete(build=complete.builds)
async def sheet_command(
    interaction: "discord.Interaction[Bot]",
    build: str,
    level: app_commands.Range[int, 1, 20] | None = None,
    paper: Literal["A4", "US Letter"] = "A4",
    plan: bool = False,
) -> None:
    """Print a build."""
    view = await _meant(interaction, build)
    if view is None:
        return
    size = "a4" if paper == "A4" else "us-letter"
    private = not view.shared
    if plan:
        printed = await apart(interaction, plan_of, parcel(view.build, view.catalog), size, private=private)
    else:
        printed = await apart(interaction, sheet_of, parcel(view.build, view.catalog), level, size, private=private)
    if printed is None:
        return
    at = "plan" if plan else f"level-{level or view.build.top}"
    name = f"build-{view.number}-{at}.pdf"
    files = [discord.File(io.BytesIO(printed.pdf), filename=name)]
    pictures: tuple[Picture, ...] = ()
    if printed.picture:
        files.append(discord.File(io.BytesIO(printed.picture), filename=_PICTURE))
        pictures = (Picture(_PICTURE, f"First page of the sheet of {view.name} at level {level or view.build.top}"),)
    what = "plan of all levels" if plan else f"sheet at level {level or view.build.top}"
    card = Card(
        f"{plain(view.name)} · #{view.number} · {what}",
        f"{paper}, revision {view.revision.number}, readable in black and white.",
        pictures=pictures,
        files=(name,),
    )
    await show(interaction, card, files=files)


@app_commands.command(name="export", description="A build as a JSON file and as its outline, for others to load")
@app_commands.describe(build="The build", schema="Also the JSON Schema of the file")
@app_commands.autocomplete(build=complete.builds)
async def export_command(interaction: "discord.Interaction[Bot]", build: str, schema: bool = False) -> None:
    """Give a build as files."""
    view = await _meant(interaction, build)
    if view is None:
        return
    stem = f"build-{view.number}-revision-{view.revision.number}"
    outline = print_outline(view.build, view.catalog, exact=True)
    texts = {f"{stem}.json": exported(view.build), f"{stem}.outline.txt": outline}
    if schema:
        texts["build.schema.json"] = schema_text()
    card = Card(
        f"{plain(view.name)} · #{view.number} · revision {view.revision.number}",
        "The build document and its outline; /build import and /build load take them.",
        (block(f"Hash {view.revision.hash}", small=True),),
        files=tuple(texts),
    )
    await show(interaction, card, private=True, files=[text_file(name, text) for name, text in texts.items()])


@app_commands.command(name="import", description="Post a build from an exported JSON file")
@app_commands.describe(file="The JSON file that /build export or `buildmoot outline --json` gave")
async def import_command(interaction: "discord.Interaction[Bot]", file: discord.Attachment) -> None:
    """Store a build document as its new author's draft."""
    text = await read_attachment(interaction, file, LONGEST_DOCUMENT)
    if text is None:
        return
    assert interaction.guild_id is not None
    command = ReadExport(server=interaction.guild_id, member=interaction.user.id, text=text)
    outline = await interaction.client.call(read_export, command)
    if isinstance(outline, Refused):
        await refuse(interaction, outline)
        return
    await send_load(interaction, outline)


@app_commands.command(name="archive", description="Everything of this server in one file; for its managers")
async def archive_command(interaction: "discord.Interaction[Bot]") -> None:
    """Give a manager everything that is stored of the server."""
    assert interaction.guild_id is not None
    command = ReadArchive(
        server=interaction.guild_id,
        member=interaction.user.id,
        manager=interaction.permissions.manage_guild,
        at=interaction.created_at,
    )
    stored = await interaction.client.call(read_archive, command)
    if isinstance(stored, Refused):
        await refuse(interaction, stored)
        return
    data = await apart(interaction, packed, stored, private=True)
    if data is None:
        return
    if len(data) > MAX_ARCHIVE:
        sentence = (
            f"The archive has {len(data) / 1_000_000:.1f} MB, more than can be attached here; whoever runs the bot "
            f"makes it with `buildmoot archive FILE --save {interaction.guild_id}`."
        )
        await show(interaction, Card("The archive is too large", sentence))
        return
    one = stored.left_out == 1
    left = f" {stored.left_out} private {'draft is' if one else 'drafts are'} left out." if stored.left_out else ""
    card = Card(
        "Archive of this server",
        f"{stored.builds} {'build' if stored.builds == 1 else 'builds'} with all revisions, proposals, votes, remarks "
        f"and history.{left}",
        (block("`buildmoot archive FILE` reads it; `--load` puts it into a database.", small=True),),
        files=("server-archive.zip",),
    )
    await show(interaction, card, files=[discord.File(io.BytesIO(data), filename="server-archive.zip")])


PUBLISHING: Final[tuple[app_commands.Command[Any, Any, Any], ...]] = (
    sheet_command,
    export_command,
    import_command,
    archive_command,
)
