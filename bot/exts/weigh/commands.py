"""The `/weigh` commands. All of it is worked out in a worker process."""

import re
from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.exts.builds import complete
from bot.exts.odds.complete import creatures
from bot.exts.weigh import cards
from bot.exts.weigh.drawing import answer_curve
from bot.ui.answer import refuse, show
from bot.ui.apart import apart
from engine.problem import Refused
from engine.services.builds import GetBuild, get_build
from engine.services.library import parcel
from engine.services.views import BuildView
from engine.services.weigh import against_of, standing_of

if TYPE_CHECKING:
    from bot.client import Bot

Level = app_commands.Range[int, 1, 20]
_REVISION = re.compile(r"(?P<build>.+?)\s+(?:revision|rev\.?)\s+(?P<revision>\d{1,6})", re.I)


class WeighCommands(app_commands.Group):
    """The `/weigh` commands."""

    def __init__(self) -> None:
        super().__init__(name="weigh", description="Where a build is strong and weak, against whom, and how it grows")

    @app_commands.command(name="standing", description="Strengths, weaknesses and gaps among reference builds")
    @app_commands.describe(build="The build")
    @app_commands.autocomplete(build=complete.builds)
    async def standing(self, interaction: "discord.Interaction[Bot]", build: str) -> None:
        """Show where a build stands."""
        view = await build_meant(interaction, build)
        if view is None:
            return
        found = await apart(interaction, standing_of, parcel(view.build, view.catalog), private=not view.shared)
        if found is not None:
            await show(interaction, cards.standing_card(view, found))

    @app_commands.command(name="against", description="Exact average chances against creatures of the rules")
    @app_commands.describe(
        build="The build",
        level="Its level; the last one if left out",
        challenge="Only of this challenge, such as 1/4, 3 or 3-5",
        kind="Only of this type, such as dragon",
        creature="One creature",
    )
    @app_commands.rename(kind="type")
    @app_commands.autocomplete(build=complete.builds, creature=creatures)
    async def against(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        level: Level | None = None,
        challenge: str | None = None,
        kind: str | None = None,
        creature: str | None = None,
    ) -> None:
        """Show a build's chances against creatures."""
        view = await build_meant(interaction, build)
        if view is None:
            return
        found = await apart(
            interaction,
            against_of,
            parcel(view.build, view.catalog),
            level,
            challenge,
            kind,
            creature,
            private=not view.shared,
        )
        if found is not None:
            await show(interaction, cards.against_card(view, found))

    @app_commands.command(name="curve", description="A picture of numbers over the levels, of one to four builds")
    @app_commands.describe(
        build="A build; `#3 revision 2` for an earlier revision",
        number="What is drawn, such as Stealth or hit points",
        number_2="A second number",
        number_3="A third number",
        build_2="Another build or revision",
        build_3="Another build or revision",
        build_4="Another build or revision",
    )
    @app_commands.rename(
        number_2="number-2", number_3="number-3", build_2="build-2", build_3="build-3", build_4="build-4"
    )
    @app_commands.autocomplete(
        build=complete.builds,
        build_2=complete.builds,
        build_3=complete.builds,
        build_4=complete.builds,
        number=complete.numbers,
        number_2=complete.numbers,
        number_3=complete.numbers,
    )
    async def curve(
        self,
        interaction: "discord.Interaction[Bot]",
        build: str,
        number: str,
        number_2: str | None = None,
        number_3: str | None = None,
        build_2: str | None = None,
        build_3: str | None = None,
        build_4: str | None = None,
    ) -> None:
        """Draw numbers over the levels."""
        views = []
        for ref in (build, build_2, build_3, build_4):
            view = await build_meant(interaction, ref) if ref is not None else None
            if ref is not None and view is None:
                return
            if view is not None:
                views.append(view)
        numbers = [name for name in (number, number_2, number_3) if name is not None]
        await answer_curve(interaction, views, numbers, private=not all(view.shared for view in views))


async def build_meant(interaction: "discord.Interaction[Bot]", ref: str) -> BuildView | None:
    """Return the build that a member means, `#3` or `#3 revision 2`; None after refusing privately."""
    assert interaction.guild_id is not None
    read = _REVISION.fullmatch(ref.strip())
    command = GetBuild(
        server=interaction.guild_id,
        member=interaction.user.id,
        build=read["build"] if read else ref,
        revision=int(read["revision"]) if read else None,
    )
    found = await interaction.client.call(get_build, command)
    if isinstance(found, Refused):
        await refuse(interaction, found)
        return None
    return found
