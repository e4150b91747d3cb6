"""`/content`: folios added, checked, listed, shown, switched, taken away, brought back, handed out."""

from math import ceil
from typing import TYPE_CHECKING, Any, Final

import discord
from discord import app_commands

from bot.exts.content import cards, complete
from bot.exts.content.sending import (
    changed,
    concerned,
    give_errors,
    hand_out,
    post_concerned,
    read_folio_file,
    with_moves,
)
from bot.exts.table import complete as table_complete
from bot.exts.table.asking import manages, roles_held
from bot.ui.answer import answer, refuse, show, text_file
from bot.ui.card import NO_MENTIONS
from bot.ui.escape import plain
from engine.problem import Refused
from engine.rules.folio_schema import template as folio_template
from engine.services.folio_settings import (
    SetLibrarians,
    ShowLibrary,
    SwitchFolio,
    UseVersion,
    set_librarians,
    show_library,
    switch_folio,
    use_version,
)
from engine.services.folio_views import FolioErrors
from engine.services.folios import (
    AddFolio,
    BringBackFolio,
    CheckFolio,
    ExportFolio,
    ListFolios,
    RemoveFolio,
    ShowFolio,
    add_folio,
    bring_back_folio,
    check_folio,
    export_folio,
    list_folios,
    remove_folio,
    show_folio,
)

if TYPE_CHECKING:
    from bot.client import Bot

FILE = "One YAML file, or a zip of a folio's folder"
TEMPLATE_FILE = "folio.yaml"
Name = app_commands.Range[str, 1, 120]
# Reading a large folio takes seconds of work, and anybody may send one.
READINGS: Final = 6
MOST_REMEMBERED: Final = 1000


class ContentCommands(app_commands.Group):
    """The `/content` commands. Everybody may read and check; who may change is a setting, which the service reads."""

    def __init__(self) -> None:
        super().__init__(name="content", description="Rules content of this server's own: its folios")
        self._readings: dict[tuple[int | None, int], app_commands.Cooldown] = {}

    def _too_soon(self, interaction: discord.Interaction[Any]) -> Refused | None:
        """Count a reading; return why a member who asked for too many has to wait."""
        if len(self._readings) > MOST_REMEMBERED:
            self._readings.clear()
        member = (interaction.guild_id, interaction.user.id)
        mine = self._readings.setdefault(member, app_commands.Cooldown(READINGS, 60.0))
        wait = mine.update_rate_limit(interaction.created_at.timestamp())
        if wait is None:
            return None
        return Refused(
            "too-soon", f"A member can have {READINGS} folios read a minute; try again in {ceil(wait)} seconds."
        )

    @app_commands.command(name="add", description="Add a folio, or a new version of one; errors come all at once")
    @app_commands.describe(file=FILE)
    async def add(self, interaction: "discord.Interaction[Bot]", file: discord.Attachment) -> None:
        """Store a folio and put it in use; then post which builds would change."""
        assert interaction.guild_id is not None
        too_soon = self._too_soon(interaction)
        if too_soon is not None:
            await refuse(interaction, too_soon)
            return
        await interaction.response.defer(ephemeral=True, thinking=True)
        data = await read_folio_file(interaction, file)
        if data is None:
            return
        command = AddFolio(
            server=interaction.guild_id,
            member=interaction.user.id,
            name=file.filename,
            data=data,
            manager=manages(interaction),
            roles=roles_held(interaction),
            at=interaction.created_at,
        )
        result = await interaction.client.call(add_folio, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
        elif isinstance(result, FolioErrors):
            await give_errors(interaction, result, file.filename)
        else:
            await show(interaction, cards.added_card(result), private=True)
            await post_concerned(interaction, result.view.brief.id)

    @app_commands.command(name="check", description="Look whether a folio is in order, without storing it")
    @app_commands.describe(file=FILE)
    async def check(self, interaction: "discord.Interaction[Bot]", file: discord.Attachment) -> None:
        """Tell privately what a folio holds, or everything that is wrong with it."""
        assert interaction.guild_id is not None
        too_soon = self._too_soon(interaction)
        if too_soon is not None:
            await refuse(interaction, too_soon)
            return
        await interaction.response.defer(ephemeral=True, thinking=True)
        data = await read_folio_file(interaction, file)
        if data is None:
            return
        command = CheckFolio(server=interaction.guild_id, member=interaction.user.id, name=file.filename, data=data)
        result = await interaction.client.call(check_folio, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
        elif isinstance(result, FolioErrors):
            await give_errors(interaction, result, file.filename)
        else:
            await show(interaction, cards.checked_card(result), private=True)

    @app_commands.command(name="template", description="A folio to fill in by hand")
    async def template(self, interaction: "discord.Interaction[Bot]") -> None:
        """Hand out the template."""
        await interaction.response.send_message(
            f"Fill this in with a text editor and try it with `/content check`. {cards.NOTICE}",
            file=text_file(TEMPLATE_FILE, folio_template()),
            ephemeral=True,
            allowed_mentions=NO_MENTIONS,
        )

    @app_commands.command(name="list", description="The folios of this server, and where they are on")
    @app_commands.describe(removed="Those that were taken away instead")
    async def list_(self, interaction: "discord.Interaction[Bot]", removed: bool = False) -> None:
        """List the folios, privately."""
        assert interaction.guild_id is not None
        command = ListFolios(server=interaction.guild_id, member=interaction.user.id, removed=removed)
        found = await interaction.client.call(list_folios, command)
        await show(interaction, cards.list_card(found, removed=removed), private=True)

    @app_commands.command(name="show", description="A folio: author, licence, what it holds, versions and builds")
    @app_commands.describe(folio="The folio")
    @app_commands.autocomplete(folio=complete.folios)
    async def show_(self, interaction: "discord.Interaction[Bot]", folio: Name) -> None:
        """Show a folio privately: it tells of builds that only the member may see."""
        assert interaction.guild_id is not None
        command = ShowFolio(server=interaction.guild_id, member=interaction.user.id, folio=folio)
        view = await interaction.client.call(show_folio, command)
        if isinstance(view, Refused):
            await refuse(interaction, view)
            return
        await show(interaction, cards.folio_card(view), private=True)

    @app_commands.command(name="builds", description="Which builds would change to the version in use, and how")
    @app_commands.describe(folio="The folio", removal="How they would change without the folio instead")
    @app_commands.autocomplete(folio=complete.folios)
    async def builds(self, interaction: "discord.Interaction[Bot]", folio: Name, removal: bool = False) -> None:
        """Show the builds that the member may see, with a button to move each."""
        await interaction.response.defer(ephemeral=True, thinking=True)
        view = await concerned(interaction, folio, member=interaction.user.id, removal=removal)
        if isinstance(view, Refused):
            await refuse(interaction, view)
            return
        await show(interaction, with_moves(view), private=True)

    @app_commands.command(name="remove", description="Take a folio away; builds keep its names, and it can come back")
    @app_commands.describe(folio="The folio")
    @app_commands.autocomplete(folio=complete.folios)
    async def remove(self, interaction: "discord.Interaction[Bot]", folio: Name) -> None:
        """Take a folio away and post what builds lose."""
        assert interaction.guild_id is not None
        await interaction.response.defer(ephemeral=True, thinking=True)
        command = RemoveFolio(
            server=interaction.guild_id,
            member=interaction.user.id,
            folio=folio,
            manager=manages(interaction),
            roles=roles_held(interaction),
            at=interaction.created_at,
        )
        result = await interaction.client.call(remove_folio, command)
        first = "It is taken away; `/content back` brings it back."
        await changed(interaction, result, first, removal=True, gone=True)

    @app_commands.command(name="back", description="Bring a folio back that was taken away")
    @app_commands.describe(folio="The folio")
    @app_commands.autocomplete(folio=complete.removed_folios)
    async def back(self, interaction: "discord.Interaction[Bot]", folio: Name) -> None:
        """Bring a folio back in all its versions."""
        assert interaction.guild_id is not None
        await interaction.response.defer(ephemeral=True, thinking=True)
        command = BringBackFolio(
            server=interaction.guild_id,
            member=interaction.user.id,
            folio=folio,
            manager=manages(interaction),
            roles=roles_held(interaction),
            at=interaction.created_at,
        )
        await changed(interaction, await interaction.client.call(bring_back_folio, command), "It is back.", gone=True)

    @app_commands.command(name="on", description="Switch a folio on, for the server or for one table")
    @app_commands.describe(folio="The folio", table="Only for this table; its GM may do so")
    @app_commands.autocomplete(folio=complete.folios, table=table_complete.tables)
    async def on_(self, interaction: "discord.Interaction[Bot]", folio: Name, table: str | None = None) -> None:
        """Switch a folio on."""
        await _switch(interaction, folio, table, on=True)

    @app_commands.command(name="off", description="Switch a folio off, for the server or for one table")
    @app_commands.describe(folio="The folio", table="Only for this table; its GM may do so")
    @app_commands.autocomplete(folio=complete.folios, table=table_complete.tables)
    async def off(self, interaction: "discord.Interaction[Bot]", folio: Name, table: str | None = None) -> None:
        """Switch a folio off."""
        await _switch(interaction, folio, table, on=False)

    @app_commands.command(name="version", description="Put another version of a folio in use")
    @app_commands.describe(folio="The folio", version="The version, such as the one before")
    @app_commands.autocomplete(folio=complete.folios, version=complete.versions)
    async def version(
        self, interaction: "discord.Interaction[Bot]", folio: Name, version: app_commands.Range[str, 1, 40]
    ) -> None:
        """Put a version in use and post which builds would change."""
        assert interaction.guild_id is not None
        await interaction.response.defer(ephemeral=True, thinking=True)
        command = UseVersion(
            server=interaction.guild_id,
            member=interaction.user.id,
            folio=folio,
            version=version,
            manager=manages(interaction),
            roles=roles_held(interaction),
            at=interaction.created_at,
        )
        result = await interaction.client.call(use_version, command)
        await changed(interaction, result, "That version is in use now.", removal=False)

    @app_commands.command(name="export", description="A folio as the file that it came as")
    @app_commands.describe(folio="The folio", version="The version; the one in use if left out")
    @app_commands.autocomplete(folio=complete.folios, version=complete.versions)
    async def export(
        self,
        interaction: "discord.Interaction[Bot]",
        folio: Name,
        version: app_commands.Range[str, 1, 40] | None = None,
    ) -> None:
        """Hand a folio out."""
        assert interaction.guild_id is not None
        command = ExportFolio(server=interaction.guild_id, member=interaction.user.id, folio=folio, version=version)
        found = await interaction.client.call(export_folio, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await hand_out(interaction, found)

    @app_commands.command(name="rights", description="Who may add folios here; managers set it")
    @app_commands.describe(
        role="Members with this role may", everybody="Everybody may", managers="Only who manages the server may"
    )
    async def rights(
        self,
        interaction: "discord.Interaction[Bot]",
        role: discord.Role | None = None,
        everybody: bool = False,
        managers: bool = False,
    ) -> None:
        """Show who may add folios, or set it."""
        assert interaction.guild_id is not None
        server, member = interaction.guild_id, interaction.user.id
        if (role is not None) + everybody + managers > 1:
            await answer(interaction, "Name a role, or everybody, or managers: one of the three.")
            return
        if role is None and not everybody and not managers:
            shown = await interaction.client.call(show_library, ShowLibrary(server=server, member=member))
            await show(interaction, cards.library_card(shown), private=True)
            return
        command = SetLibrarians(
            server=server,
            member=member,
            manager=manages(interaction),
            role=server if everybody else role.id if role is not None else None,
            at=interaction.created_at,
        )
        result = await interaction.client.call(set_librarians, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await show(interaction, cards.library_card(result))


async def _switch(interaction: "discord.Interaction[Bot]", folio: str, table: str | None, *, on: bool) -> None:
    assert interaction.guild_id is not None
    await interaction.response.defer(ephemeral=True, thinking=True)
    command = SwitchFolio(
        server=interaction.guild_id,
        member=interaction.user.id,
        folio=folio,
        on=on,
        table=table,
        manager=manages(interaction),
        roles=roles_held(interaction),
        at=interaction.created_at,
    )
    result = await interaction.client.call(switch_folio, command)
    where = f" for {plain(table)}" if table is not None else ""
    await changed(interaction, result, f"It is switched {'on' if on else 'off'}{where}.")
