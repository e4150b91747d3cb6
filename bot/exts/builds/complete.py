"""Autocomplete of builds, levels, numbers and classes. Answers from indexed reads; errors mean an empty list."""

from typing import TYPE_CHECKING

import discord
from discord import app_commands

from bot.ui.escape import label
from bot.ui.numbers import name_words
from engine.problem import Refused
from engine.rules.names import fold
from engine.services.builds import GetBuild, SuggestBuilds, get_build, suggest_builds
from engine.services.facts import OpenCatalog, open_catalog
from engine.services.odds import suggest_states as every_state
from engine.services.states import SuggestStates, suggest_states
from engine.sheet import gather
from engine.sheet.exertion import exertion
from engine.sheet.plan import Plan
from engine.sheet.states import find_states, split_states
from engine.sheet.whole import at_level

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.rules.catalog import Catalog
    from engine.services.views import BuildView

MOST = 25
Choices = list[app_commands.Choice[str]]


async def catalog_here(interaction: "discord.Interaction[Bot]") -> "Catalog":
    """Return what the server plays by."""
    assert interaction.guild_id is not None
    command = OpenCatalog(server=interaction.guild_id, member=interaction.user.id)
    return await interaction.client.call(open_catalog, command)


async def builds(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the builds this member may see; the value is the number people say aloud."""
    return await _builds(interaction, current, own=False)


async def own_builds(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the member's own builds."""
    return await _builds(interaction, current, own=True)


async def _builds(interaction: "discord.Interaction[Bot]", current: str, *, own: bool) -> Choices:
    assert interaction.guild_id is not None
    command = SuggestBuilds(server=interaction.guild_id, member=interaction.user.id, text=current, own=own)
    found = await interaction.client.call(suggest_builds, command)
    return [app_commands.Choice(name=label(s.label, 100), value=f"#{s.number}") for s in found[:MOST]]


async def chosen_build(interaction: "discord.Interaction[Bot]") -> "BuildView | None":
    """Return the build already filled in on the command being typed, if it can be found."""
    ref = getattr(interaction.namespace, "build", None)
    if not ref or interaction.guild_id is None:
        return None
    command = GetBuild(server=interaction.guild_id, member=interaction.user.id, build=ref)
    found = await interaction.client.call(get_build, command)
    return None if isinstance(found, Refused) else found


async def numbers(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the numbers of the chosen build, by what people call them."""
    view = await chosen_build(interaction)
    if view is None or view.build.top == 0:
        return []
    level = getattr(interaction.namespace, "level", None) or view.build.top
    on = find_states(split_states(getattr(interaction.namespace, "while", None) or ""), view.catalog)
    gathered = gather(view.build, view.catalog, () if isinstance(on, Refused) else on)
    level = min(max(level, 1), view.build.top)
    wanted = fold(current)
    known = (*at_level(Plan(gathered), level).numbers, *exertion(gathered, level))
    named = [(name_words(name, view.catalog), name) for name in known]
    hits = [(words, name) for words, name in named if wanted in fold(words) or current in name]
    return [app_commands.Choice(name=label(words, 100), value=name) for words, name in hits[:MOST]]


async def states(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer states for the last place of a list parted by commas; what stands before it is kept.

    Of a build that is filled in, those that it can be in; else all that there are.
    """
    before, comma, last = current.rpartition(",")
    head = f"{before}{comma} " if comma else ""
    build = getattr(interaction.namespace, "build", None)
    if build and interaction.guild_id is not None:
        command = SuggestStates(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=build,
            level=getattr(interaction.namespace, "level", None),
            text=last.strip(),
        )
        names = await interaction.client.call(suggest_states, command)
    else:
        names = every_state(await catalog_here(interaction), last.strip())
    taken = set(split_states(before))
    found = [head + name for name in names if name not in taken]
    return [app_commands.Choice(name=text, value=text) for text in found if len(text) <= 100]


async def classes(interaction: "discord.Interaction[Bot]", current: str) -> Choices:
    """Offer the classes of the rules release and of the folios that are on."""
    wanted = fold(current)
    named = [n for n in (await catalog_here(interaction)).every("class") if wanted in fold(n.name)]
    return [app_commands.Choice(name=label(n.name, 100), value=n.id) for n in named[:MOST]]
