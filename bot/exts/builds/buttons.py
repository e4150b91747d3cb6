"""Buttons of build cards. An id names the build and nothing more; rights are read again at every press."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, Self

import discord
from discord import ui

from bot.exts.builds import cards
from bot.exts.builds.mends import MendButton
from bot.exts.weigh.buttons import CurveButton
from bot.ui.answer import redraw, refuse, show, text_file
from bot.ui.guarded import Guarded
from engine.problem import Refused
from engine.services.builds import GetBuild, ShowBuild, get_build, show_build
from engine.services.drafts import GetDraft, get_draft
from engine.services.views import ShownBuild
from engine.sheet.states import split_states

if TYPE_CHECKING:
    from bot.client import Bot
    from engine.services.views import Draft, Part


# States that are on stand behind the rest of an id, where there are any and they fit.
STATES: Final = r"(?::(?P<states>[a-z0-9,/.-]+))?"
LEVEL_ID: Final = r"v1:level:(?P<build>\d+):(?P<level>\d+):(?P<side>[<>])" + STATES
WHY_ID: Final = r"v1:why:(?P<build>\d+):(?P<level>\d+)" + STATES
LONGEST_ID: Final = 100


def with_states(custom_id: str, states: Sequence[str]) -> str:
    """Return an id that names the states too; without them if it would be too long for the platform."""
    longer = f"{custom_id}:{','.join(states)}" if states else custom_id
    return longer if len(longer) <= LONGEST_ID else custom_id


def states_in(match: re.Match[str]) -> tuple[str, ...]:
    """Return the ids of states that an id names."""
    return split_states(match["states"] or "")


class LevelButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=LEVEL_ID):
    """Turn the card to the level before or after."""

    def __init__(self, build: int, level: int, side: str, states: Sequence[str] = ()) -> None:
        words = f"{'‹ ' if side == '<' else ''}level {level}{' ›' if side == '>' else ''}"
        custom_id = with_states(f"v1:level:{build}:{level}:{side}", states)
        super().__init__(ui.Button(label=words, custom_id=custom_id))
        self.build, self.level, self.states = build, level, tuple(states)

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["build"]), int(match["level"]), match["side"], states_in(match))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Show the other level in place."""
        assert interaction.guild_id is not None
        command = ShowBuild(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=self.build,
            level=self.level,
            states=self.states,
        )
        shown = await interaction.client.call(show_build, command)
        if isinstance(shown, Refused):
            await refuse(interaction, shown)
            return
        await redraw(interaction, cards.build_card(shown).with_rows(*build_rows(shown)))


class OutlineButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:outline:(?P<build>\d+)"):
    """Read the choices as outline text, privately."""

    def __init__(self, build: int) -> None:
        super().__init__(ui.Button(label="Choices", custom_id=f"v1:outline:{build}"))
        self.build = build

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["build"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer with the outline."""
        await show_outline(interaction, self.build)


class WhyButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=WHY_ID):
    """Pick a number and read its reasons, privately."""

    def __init__(self, build: int, level: int, states: Sequence[str] = ()) -> None:
        super().__init__(ui.Button(label="Why", custom_id=with_states(f"v1:why:{build}:{level}", states)))
        self.build, self.level, self.states = build, level, tuple(states)

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["build"]), int(match["level"]), states_in(match))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Answer with the reasons of the numbers that are asked about most."""
        assert interaction.guild_id is not None
        command = ShowBuild(
            server=interaction.guild_id,
            member=interaction.user.id,
            build=self.build,
            level=self.level,
            states=self.states,
        )
        shown = await interaction.client.call(show_build, command)
        if isinstance(shown, Refused):
            await refuse(interaction, shown)
            return
        await show(interaction, cards.reasons_card(shown), private=True)


class AgainButton(Guarded, ui.DynamicItem[ui.Button[Any]], template=r"v1:again:(?P<draft>\d+)"):
    """Open the form of a kept text again, filled in."""

    def __init__(self, draft: int, words: str = "Try again") -> None:
        super().__init__(ui.Button(label=words, style=discord.ButtonStyle.primary, custom_id=f"v1:again:{draft}"))
        self.draft = draft

    @classmethod
    async def from_custom_id(cls, interaction: Any, item: Any, match: re.Match[str], /) -> Self:
        """Read the id back; no look-up."""
        return cls(int(match["draft"]))

    async def press(self, interaction: "discord.Interaction[Bot]") -> None:
        """Open the form; a text too long for it is answered with what to do instead."""
        assert interaction.guild_id is not None
        command = GetDraft(server=interaction.guild_id, member=interaction.user.id, draft=self.draft)
        draft = await interaction.client.call(get_draft, command)
        if isinstance(draft, Refused):
            await refuse(interaction, draft)
            return
        form = form_of(draft)
        if form is None:
            await refuse(interaction, TOO_LONG)
            return
        await interaction.response.send_modal(form)


TOO_LONG: Final = Refused(
    "text-too-long",
    "That text is too long for a form; mend it in the file above and attach it to the command instead.",
)


def form_of(draft: "Draft") -> ui.Modal | None:
    """Return the form a draft belongs to, filled in; None if its text does not fit a form."""
    from bot.exts.builds.forms import FIELD, EditForm, LoadForm, split_outline
    from bot.exts.proposals.forms import ChangeForm, ProposeForm
    from bot.exts.table.forms import RulesForm

    fields = draft.fields
    if draft.kind == "table-rules":
        return RulesForm(int(fields["table"]), fields["text"]) if len(fields["text"]) <= FIELD else None
    if draft.kind == "load":
        return LoadForm(fields["text"]) if split_outline(fields["text"]) else None
    others = {name: int(fields[name]) if fields.get(name) else None for name in ("based_on", "instead")}
    if draft.kind == "propose-change":
        return ChangeForm(
            int(fields["build"]), int(fields["level"]), fields["remove"], fields["add"], fields["reason"], **others
        )
    if len(fields["text"]) > FIELD:
        return None
    part: Part = "whole" if fields["part"] == "whole" else "header"
    if fields["part"].isdigit():
        part = int(fields["part"])
    revision = int(fields["revision"]) if fields.get("revision") else None
    build, name = int(fields["build"]), f"#{fields['build']}"
    if draft.kind == "edit":
        return EditForm(build, name, part, fields["text"], fields["reason"], revision)
    return ProposeForm(build, name, part, fields["text"], fields["reason"], revision, **others)


def build_rows(shown: ShownBuild) -> list[list[ui.Item[Any]]]:
    """Return the buttons under a build's card."""
    number, level, states = shown.view.number, shown.level, shown.states
    row: list[ui.Item[Any]] = []
    if level > 1:
        row.append(LevelButton(number, level - 1, "<", states))
    if level < shown.view.build.top:
        row.append(LevelButton(number, level + 1, ">", states))
    row += [OutlineButton(number), WhyButton(number, level, states)]
    if shown.view.build.top > 1:
        row.append(CurveButton(number))
    return [row]


async def show_outline(interaction: "discord.Interaction[Bot]", ref: int | str, revision: int | None = None) -> None:
    """Answer privately with a build's outline as text and as a file."""
    from engine.build.outline import print_outline

    assert interaction.guild_id is not None
    command = GetBuild(server=interaction.guild_id, member=interaction.user.id, build=ref, revision=revision)
    view = await interaction.client.call(get_build, command)
    if isinstance(view, Refused):
        await refuse(interaction, view)
        return
    text = print_outline(view.build, view.catalog)
    name = f"build-{view.number}-revision-{view.revision.number}.txt"
    await show(interaction, cards.outline_card(view, text, name), private=True, files=[text_file(name, text)])


BUTTONS: Final = (LevelButton, OutlineButton, WhyButton, AgainButton, MendButton)
