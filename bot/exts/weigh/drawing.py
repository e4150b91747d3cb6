"""Curves: one picture for a command and for a press."""

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import discord

from bot.exts.weigh import cards
from bot.ui.answer import show
from bot.ui.apart import apart
from engine.build.document import Build
from engine.publish.pictures import draw
from engine.publish.plots import Plot
from engine.services.library import parcel
from engine.services.views import BuildView
from engine.services.weigh import MOST_NUMBERS, curve_of

if TYPE_CHECKING:
    from bot.client import Bot

USUAL: Final = ("hp.max", "ac", "skill.perception.passive")
"""What is drawn of a build whose goals name no number."""


async def answer_curve(
    interaction: "discord.Interaction[Bot]", views: Sequence[BuildView], numbers: Sequence[str], *, private: bool
) -> None:
    """Answer with the picture of numbers of builds over their levels, or with why there is none."""
    sides = [(_label(view), parcel(view.build, view.catalog)) for view in views]
    plot = await apart(interaction, curve_of, sides, numbers, private=private)
    picture = await apart(interaction, draw, plot, private=private) if isinstance(plot, Plot) else None
    if isinstance(plot, Plot) and picture is not None:
        file = discord.File(io.BytesIO(picture), filename=cards.PICTURE_FILE, description=plot.alt)
        await show(interaction, cards.curve_card(plot), files=[file])


def numbers_of_interest(build: Build) -> tuple[str, ...]:
    """Return what a build's own curve shows: the numbers that its goals name, then the usual ones."""
    wanted = [goal.name for goal in build.goals if goal.form == "compare" and goal.name is not None]
    return tuple(dict.fromkeys([*wanted, *USUAL]))[:MOST_NUMBERS]


def _label(view: BuildView) -> str:
    if view.revision.number == view.latest:
        return f"{view.name} (#{view.number})"
    return f"{view.name} (#{view.number}, revision {view.revision.number})"
