"""From the options of a command to a question, and from a question to the answer that a member sees."""

import asyncio
import io
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import discord

from bot.exts.odds.cards import PICTURE_FILE, odds_card
from bot.filecommands.odds_arguments import read_line
from bot.log import log_fault
from bot.ui.answer import refuse, show
from engine.odds.asked import FIELDS, Asked, Kind, Use
from engine.problem import Refused
from engine.publish.odds_plots import plot_of
from engine.publish.pictures import draw
from engine.publish.pool import WorkFailed
from engine.services.odds import AskOdds, OddsView, answer_plain, ask_odds, needs_store
from engine.sheet.states import split_states

if TYPE_CHECKING:
    from bot.client import Bot

PICTURE_SECONDS: Final = 20.0
TOO_LONG: Final = "The picture took too long and was left out; the figures stand."
NOT_DRAWN: Final = "The picture could not be drawn and was left out; the figures stand (reference {})."
_USES: Final = ("attack", "spell", "save", "skill")
_EDGES: Final = {"advantage": (True, False), "disadvantage": (False, True), "neither": (False, False)}


def asked_by(kind: Kind, options: dict[str, Any]) -> Asked:
    """Return the question that a command's options put. options: only those that were given, by their names."""
    given = {name: value for name, value in options.items() if value is not None}
    for before in ("", "other_"):
        edge = given.pop(f"{before}advantage", None)
        if edge is not None:
            given[f"{before}advantage"], given[f"{before}disadvantage"] = _EDGES[edge]
    defense = given.pop("defense", None)
    if defense is not None:
        given[defense] = True
    use = next((Use(kind=name, name=given[name]) for name in _USES if name in given), None)
    builds = [given[name] for name in ("build", "build_2", "build_3", "build_4", "build_5") if name in given]
    return Asked(
        kind=kind,
        fields={name: given[name] for name in FIELDS[kind] if name in given},
        builds=tuple(builds),
        level=given.get("level"),
        states=split_states(given.get("while", "")),
        use=use,
        slot=given.get("slot"),
        creature=given.get("creature"),
        ability=given.get("ability"),
        versus=given.get("versus"),
    )


def compared_by(lines: Sequence[str]) -> list[Asked] | Refused:
    """Return the questions of a comparison, each written in one line."""
    asked = []
    for line in lines:
        one = read_line(line)
        if isinstance(one, Refused):
            return one
        asked.append(one if one.label else replace(one, label=" ".join(line.split())[:40]))
    return asked


async def answer_odds(interaction: "discord.Interaction[Bot]", asked: Sequence[Asked], *, picture: str | None) -> None:
    """Answer a question with its card; what is wrong with it is told to the member alone.

    picture: which one to draw, None for none. Then the answer is acknowledged first and drawn in another process.
    """
    view = await _answered(interaction, asked, apart=picture is not None)
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return
    if picture is None:
        await show(interaction, odds_card(view), private=view.private)
        return
    await interaction.response.defer(ephemeral=view.private)
    plot = await asyncio.to_thread(plot_of, view.answer, picture, view.rules)
    try:
        data = await interaction.client.workers.run(draw, plot, timeout=PICTURE_SECONDS)
    except TimeoutError:
        await show(interaction, odds_card(view, note=TOO_LONG))
    except WorkFailed as error:
        await show(interaction, odds_card(view, note=NOT_DRAWN.format(log_fault(error))))
    else:
        file = discord.File(io.BytesIO(data), filename=PICTURE_FILE, description=plot.alt)
        await show(interaction, odds_card(view, plot.alt), files=[file])


async def _answered(
    interaction: "discord.Interaction[Bot]", asked: Sequence[Asked], *, apart: bool
) -> OddsView | Refused:
    """Return the answer. apart: worked out beside the event loop, which a picture must not hold up."""
    assert interaction.guild_id is not None
    if needs_store(asked):
        command = AskOdds(server=interaction.guild_id, member=interaction.user.id, asked=tuple(asked))
        return await interaction.client.call(ask_odds, command)
    if apart:
        return await asyncio.to_thread(answer_plain, asked)
    return answer_plain(asked)
