"""The room in a terminal: type slash commands as any member, press numbered buttons, fill in forms field by field."""

import asyncio
import sys
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any, Final

import discord
from simcord.actors import MemberActor
from simcord.backend.errors import BackendError, SetupError
from simcord.results import InteractionResult

from bot.room.lines import Line, Order, Press, Say, Slash, parse_line
from bot.room.render import framed
from bot.room.world import GM, MEMBERS, Trouble, World

Ask = Callable[[str], Awaitable[str]]
Out = Callable[[str], None]
HELP: Final = f"""You are in the local room. The people here: {", ".join((GM, *MEMBERS))} ({GM} is the game master).
  @tiva /build list                         a command, as that member; without @name the last one acts again
  @oskar /build show build:#1 level:9       options by name; a file option takes a path
  @sela press 2                             press the button with that number
  who · page · help · quit                  who is here, the browser page, this text, leave (nothing is lost)
In a form, an empty line ends a field; a single dot keeps what stands there."""


@dataclass(slots=True)
class Session:
    """One person's sitting: who acted last, which buttons stand on the screen, what was shown already."""

    world: World
    ask: Ask
    out: Out
    who: str
    page: str = "The browser page is off."
    buttons: list[tuple[discord.Message, str]] = field(default_factory=list)
    seen: int = 0

    async def run(self) -> None:
        """Read lines until `quit` or the end of input."""
        self.out(HELP)
        self.out(self.page)
        await self.show_news()
        while True:
            try:
                text = await self.ask(f"@{self.who} > ")
            except (EOFError, KeyboardInterrupt):
                return
            line = parse_line(text, self.world.commands())
            if isinstance(line.act, Order) and line.act.word == "quit":
                return
            await self.act(line)

    async def act(self, line: Line) -> None:
        """Do what a line asks for; whatever cannot be done is said in one sentence."""
        try:
            if line.member is not None:
                self.world.member(line.member)
                self.who = line.member.lower()
            if line.trouble is not None:
                raise Trouble(line.trouble)
            actor = self.world.member(self.who)
            match line.act:
                case Slash(name, options):
                    await self.shown(actor, await self.world.slash(actor, name, options))
                case Press(number):
                    await self.press(actor, number)
                case Say(text):
                    async with self.world.lock:
                        await actor.send(self.world.channel, text)
                    self.out("(said; the bot reads no messages)")
                case Order("who"):
                    self.out(", ".join(f"@{n}" for n in self.world.members))
                case Order("page"):
                    self.out(self.page)
                case Order(_):
                    self.out(HELP)
                case None:
                    pass
        except (Trouble, SetupError, BackendError) as trouble:
            self.out(f"! {trouble}")

    async def press(self, actor: MemberActor, number: int) -> None:
        """Press a numbered button of what stands on the screen."""
        if not 1 <= number <= len(self.buttons):
            raise Trouble(f"There is no button {number}; the screen has {len(self.buttons)}.")
        message, custom_id = self.buttons[number - 1]
        current = self.world.message(message.id, message.channel.id)
        await self.shown(actor, await self.world.click(actor, current, custom_id), pressed=current)

    async def shown(
        self, actor: MemberActor, result: InteractionResult, pressed: discord.Message | None = None
    ) -> None:
        """Show what came back: a form to fill in, answers, the redrawn card, and what is new in the channel."""
        if result.modal is not None:
            values = await self.fill(result.modal)
            if values is None:
                self.out("(form closed, nothing sent)")
                return
            await self.shown(actor, await self.world.submit(actor, result, values), pressed)
            return
        if not result.acknowledged:
            raise Trouble("The bot did not answer in time.")
        self.buttons.clear()
        answers = self.world.messages_of(result)
        if pressed is not None and not any(m.id == pressed.id for m in answers):
            answers.insert(0, self.world.message(pressed.id, pressed.channel.id))
        for message in answers:
            private = bool(message.flags.ephemeral)
            self.show(message, f"Buildmoot, to {actor.name.capitalize()} alone" if private else "Buildmoot")
            if not private:
                self.seen = max(self.seen, message.id)
        await self.show_news()

    async def show_news(self) -> None:
        """Show the public messages that came since the last look."""
        for message in self.world.new_messages(self.seen):
            self.seen = message.id
            if message.author.bot:
                self.show(message, f"Buildmoot in {self.world.place_of(message)}")

    def show(self, message: discord.Message, who: str) -> None:
        """Print one message, its buttons numbered after those already on the screen."""
        text = self.world.text_of(message)
        self.out(framed(who, text, len(self.buttons) + 1))
        self.buttons += [(message, b.custom_id or "") for b in text.buttons]
        for file in message.attachments:
            self.out(f"(attached: {file.filename}, {file.size} bytes)")

    async def fill(self, form: dict[str, Any]) -> dict[str, Any] | None:
        """Ask for a form field by field; None if the person ends the input instead."""
        self.out(f"── form: {form['title']}")
        values: dict[str, Any] = {}
        for part in form["components"]:
            control = part.get("component") or part
            if "custom_id" not in control:
                continue
            self.out(f"· {part.get('label', '')}: {part.get('description') or ''}")
            if control.get("value"):
                self.out("  stands there now (a single dot keeps it):")
                self.out("\n".join(f"  {line}" for line in str(control["value"]).splitlines()))
            try:
                values[control["custom_id"]] = await self._field(control)
            except EOFError:
                return None
        return values

    async def _field(self, control: dict[str, Any]) -> str | list[str]:
        if control.get("options"):
            return await self._choice(control["options"])
        lines: list[str] = []
        long = control.get("style") == discord.TextStyle.paragraph.value
        while True:
            line = await self.ask("  | ")
            if line == "." and not lines:
                return str(control.get("value") or "")
            if not line:
                break
            lines.append(line)
            if not long:
                break
        return "\n".join(lines)

    async def _choice(self, options: list[dict[str, Any]]) -> list[str]:
        """Ask for one of numbered options until there is one; an empty line or a dot takes the one that is set."""
        for number, option in enumerate(options, start=1):
            self.out(f"  {number} {option['label']}{' (set)' if option.get('default') else ''}")
        while True:
            line = (await self.ask("  number | ")).strip()
            if line.isdigit() and 1 <= int(line) <= len(options):
                return [options[int(line) - 1]["value"]]
            kept = [option["value"] for option in options if option.get("default")]
            if line in ("", ".") and kept:
                return kept
            self.out(f"  Type a number from 1 to {len(options)}.")


async def ask_terminal(prompt: str) -> str:
    """Read one line from the terminal without stopping the room's clock."""
    if sys.stdin.isatty():
        from prompt_toolkit import PromptSession

        session: PromptSession[str] = PromptSession()
        typed: str = await session.prompt_async(prompt)
        return typed
    line: str = await asyncio.to_thread(sys.stdin.readline)
    if not line:
        raise EOFError
    return line.rstrip("\n")
