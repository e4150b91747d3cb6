"""`/build`: post, share, read, edit and compare builds."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import cards, complete
from bot.exts.builds.buttons import build_rows, show_outline
from bot.exts.builds.forms import EditForm, LoadForm
from bot.exts.builds.keeping import KEEPING
from bot.exts.builds.mends import mend_row
from bot.exts.builds.publishing import PUBLISHING
from bot.exts.builds.sending import read_attachment, send_edit, send_load
from bot.ui.answer import answer, refuse, show
from bot.ui.escape import plain
from bot.ui.numbers import number_named
from engine.problem import Refused
from engine.rules.names import nearest
from engine.services.builds import (
    BuildHistory,
    GetBuild,
    ListBuilds,
    ReadPart,
    RemoveBuild,
    ShareBuild,
    ShowBuild,
    build_history,
    get_build,
    list_builds,
    read_part,
    remove_build,
    share_build,
    show_build,
)
from engine.services.mending import AuditBuild, audit_build
from engine.services.numbers import CompareBuilds, SeeOpenChoices, compare_builds, see_open_choices
from engine.sheet.states import split_states

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import BuildView, Part

MAX_FILE = 200_000
LevelOption = app_commands.Range[int, 1, 20]
STATES_ON = "States switched on, such as Rage, Mage Armor"


class BuildCommands(app_commands.Group):
    """The `/build` commands."""

    def __init__(self) -> None:
        super().__init__(name="build", description="Post, read, edit and compare builds")
        for command in (*KEEPING, *PUBLISHING):
            self.add_command(command)

    @app_commands.command(name="load", description="Post a build: attach its outline, or fill in the form")
    @app_commands.describe(file="The outline as a text file; leave it out to paste into a form")
    async def load(self, interaction: "discord.Interaction[Bot]", file: discord.Attachment | None = None) -> None:
        """Store a new build as its author's draft."""
        if file is None:
            await interaction.response.send_modal(LoadForm())
            return
        text = await read_attachment(interaction, file, MAX_FILE)
        if text is not None:
            await send_load(interaction, text)

    @app_commands.command(name="share", description="Let the server see your build; its card is posted here")
    @app_commands.describe(build="Your build")
    @app_commands.autocomplete(build=complete.own_builds)
    async def share(self, interaction: "discord.Interaction[Bot]", build: str) -> None:
        """Make a draft visible to the server and post its card."""
        assert interaction.guild_id is not None
        command = ShareBuild(
            server=interaction.guild_id, member=interaction.user.id, build=build, at=interaction.created_at
        )
        result = await interaction.client.call(share_build, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        from bot.exts.proposals.posting import answer_with_live_card

        await answer_with_live_card(interaction, result.number)

    @app_commands.command(name="show", description="A build at a level: numbers, skills, attacks, spells")
    @app_commands.describe(
        build="The build, by number or name", level="Character level; the last one if left out", while_=STATES_ON
    )
    @app_commands.rename(while_="while")
    @app_commands.autocomplete(build=complete.builds, while_=complete.states)
    async def show_(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        level: LevelOption | None = None,
        while_: str | None = None,
    ) -> None:
        """Show a build's card; a draft only to its author."""
        assert interaction.guild_id is not None
        command = ShowBuild(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            level=level,
            states=split_states(while_ or ""),
        )
        shown = await interaction.client.call(show_build, command)
        if isinstance(shown, Refused):
            await refuse(interaction, shown)
            return
        card = cards.build_card(shown).with_rows(*build_rows(shown))
        await show(interaction, card, private=not shown.view.shared)

    @app_commands.command(name="next", description="What is open at a level: how many, of what, and the legal options")
    @app_commands.describe(build="The build", level="Character level; the one after the last if left out")
    @app_commands.autocomplete(build=complete.builds)
    async def next_(
        self, interaction: "discord.Interaction[Bot]", build: str, level: LevelOption | None = None
    ) -> None:
        """List the open choices of a level, privately."""
        assert interaction.guild_id is not None
        command = SeeOpenChoices(server=interaction.guild_id, member=interaction.user.id, build=build, level=level)
        found = await interaction.client.call(see_open_choices, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, cards.next_card(found), private=True)

    @app_commands.command(name="why", description="The reasons of a number, as a little sum")
    @app_commands.describe(
        build="The build", level="Character level", number="Which number, such as Stealth", while_=STATES_ON
    )
    @app_commands.rename(while_="while")
    @app_commands.autocomplete(build=complete.builds, number=complete.numbers, while_=complete.states)
    async def why(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        level: LevelOption,
        number: str,
        while_: str | None = None,
    ) -> None:
        """Show how a number comes about."""
        assert interaction.guild_id is not None
        command = ShowBuild(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            level=level,
            states=split_states(while_ or ""),
        )
        shown = await interaction.client.call(show_build, command)
        if isinstance(shown, Refused):
            await refuse(interaction, shown)
            return
        name = number_named(number, shown.numbers, shown.view.catalog)
        if name is None:
            near = nearest(number, shown.numbers)
            hint = f" Nearest: {', '.join(near)}." if near else ""
            await answer(interaction, f"No number of this build is called “{plain(number)}”.{hint}")
            return
        card = cards.why_card(shown, name)
        await show(interaction, card, private=not shown.view.shared)

    @app_commands.command(name="audit", description="What breaks the rules, needs a ruling or is unfinished")
    @app_commands.describe(build="The build", level="Only the findings of this level, in full")
    @app_commands.autocomplete(build=complete.builds)
    async def audit_(
        self, interaction: "discord.Interaction[Bot]", build: str, level: LevelOption | None = None
    ) -> None:
        """Show the findings of a build, and buttons for those that can be mended in one way."""
        assert interaction.guild_id is not None
        command = AuditBuild(server=interaction.guild_id, member=interaction.user.id, build=build)
        audited = await interaction.client.call(audit_build, command)
        if isinstance(audited, Refused):
            await refuse(interaction, audited)
            return
        card = cards.audit_card(audited, level).with_rows(mend_row(audited))
        await show(interaction, card, private=not audited.view.shared)

    @app_commands.command(name="outline", description="The build as outline text, to copy or change")
    @app_commands.describe(build="The build", revision="Which revision; the newest if left out")
    @app_commands.autocomplete(build=complete.builds)
    async def outline(
        self, interaction: "discord.Interaction[Bot]", build: str, revision: app_commands.Range[int, 1] | None = None
    ) -> None:
        """Give the outline as text and as a file."""
        await show_outline(interaction, build, revision)

    @app_commands.command(name="edit", description="Change your own build: its header, one level, or all by file")
    @app_commands.describe(
        build="Your build",
        level="The level to change; leave it out for the header",
        file="A whole outline instead of the form",
    )
    @app_commands.autocomplete(build=complete.own_builds)
    async def edit(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        level: LevelOption | None = None,
        file: discord.Attachment | None = None,
    ) -> None:
        """Open a form filled with a part of the build, or store a whole outline."""
        assert interaction.guild_id is not None
        part: Part = "whole" if file is not None else "header" if level is None else level
        command = ReadPart(server=interaction.guild_id, member=interaction.user.id, build=build, part=part)
        found = await interaction.client.call(read_part, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
        elif file is None:
            await interaction.response.send_modal(
                EditForm(found.build, found.name, part, found.text, "", found.revision)
            )
        else:
            text = await read_attachment(interaction, file, MAX_FILE)
            if text is not None:
                await send_edit(interaction, found.build, "whole", text, "", found.revision)

    @app_commands.command(name="remove", description="Take your own build off this server")
    @app_commands.describe(build="Your build")
    @app_commands.autocomplete(build=complete.own_builds)
    async def remove(self, interaction: "discord.Interaction[Bot]", build: str) -> None:
        """Remove one's own build."""
        assert interaction.guild_id is not None
        command = RemoveBuild(
            server=interaction.guild_id, member=interaction.user.id, build=build, at=interaction.created_at
        )
        result = await interaction.client.call(remove_build, command)
        if isinstance(result, Refused):
            await refuse(interaction, result)
            return
        await answer(interaction, f"{plain(result.name)} (#{result.number}) is removed; nobody can propose on it.")

    @app_commands.command(name="list", description="The builds of this server")
    @app_commands.describe(
        author="Only by this member",
        class_="Only with this class",
        level="Only of this level",
        retired="Those set aside",
    )
    @app_commands.rename(class_="class")
    @app_commands.autocomplete(class_=complete.classes)
    async def list_(
        self,
        interaction: "discord.Interaction[Bot]",
        author: discord.User | None = None,
        class_: str | None = None,
        level: LevelOption | None = None,
        retired: bool = False,
        page: app_commands.Range[int, 1] = 1,
    ) -> None:
        """List builds, newest first, privately: drafts of one's own are among them."""
        assert interaction.guild_id is not None
        catalog = await complete.catalog_here(interaction)
        class_id = None
        if class_ is not None:
            hits = catalog.find("class", class_)
            if not hits:
                near = catalog.suggest("class", class_)
                hint = f" Nearest: {', '.join(near)}." if near else ""
                await answer(interaction, f"No class is called “{plain(class_)}”.{hint}")
                return
            class_id = hits[0].id
        command = ListBuilds(
            server=interaction.guild_id,
            member=interaction.user.id,
            author=author.id if author else None,
            class_=class_id,
            level=level,
            retired=retired,
            page=page,
        )
        found = await interaction.client.call(list_builds, command)
        filters = " with these filters" if author or class_id or level or retired else ""
        await show(interaction, cards.list_card(found, catalog, filters), private=True)

    @app_commands.command(name="history", description="Who changed what, and when")
    @app_commands.describe(build="The build")
    @app_commands.autocomplete(build=complete.builds)
    async def history(
        self, interaction: "discord.Interaction[Bot]", build: str, page: app_commands.Range[int, 1] = 1
    ) -> None:
        """Page through the history of a build, privately."""
        view = await _view(interaction, build)
        if view is None:
            return
        assert interaction.guild_id is not None
        command = BuildHistory(server=interaction.guild_id, member=interaction.user.id, build=view.number, page=page)
        found = await interaction.client.call(build_history, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        await show(interaction, cards.history_card(view, found), private=True)

    @app_commands.command(name="compare", description="What differs between two builds, or two revisions of one")
    @app_commands.describe(
        build="The build to compare from",
        other="The build to compare with; leave it out for two revisions of one",
        level="Only at this level",
        revision="Revision of the first build",
        other_revision="Revision of the second",
    )
    @app_commands.autocomplete(build=complete.builds, other=complete.builds)
    async def compare(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        other: str | None = None,
        level: LevelOption | None = None,
        revision: app_commands.Range[int, 1] | None = None,
        other_revision: app_commands.Range[int, 1] | None = None,
    ) -> None:
        """Show the difference of two builds or revisions."""
        assert interaction.guild_id is not None
        command = CompareBuilds(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            other=other,
            revision=revision,
            other_revision=other_revision,
            level=level,
        )
        found = await interaction.client.call(compare_builds, command)
        if isinstance(found, Refused):
            await refuse(interaction, found)
            return
        shared = found.before.shared and found.after.shared
        await show(interaction, cards.compare_card(found), private=not shared)


async def _view(interaction: "discord.Interaction[Bot]", build: str) -> "BuildView | None":
    """Return a build the member may see, or None after refusing privately."""
    assert interaction.guild_id is not None
    command = GetBuild(server=interaction.guild_id, member=interaction.user.id, build=build)
    found = await interaction.client.call(get_build, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return None
    return found
