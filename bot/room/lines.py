"""What is typed in the room: `@name /build show build:Reed Warden level:9`, `@name press 2`, or plain talk."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Slash:
    """A slash command with its options as typed."""

    name: str
    options: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Press:
    """Press a numbered button."""

    number: int


@dataclass(frozen=True, slots=True)
class Say:
    """Plain talk in the channel."""

    text: str


@dataclass(frozen=True, slots=True)
class Order:
    """A word for the room itself: help, quit, who, cards."""

    word: str


@dataclass(frozen=True, slots=True)
class Line:
    """One typed line. member: who does it; None means whoever acted last."""

    member: str | None
    act: Slash | Press | Say | Order | None
    trouble: str | None = None


_WHO = re.compile(r"^@([\w-]+)\s*")
ORDERS = ("help", "quit", "who", "page")


def parse_line(text: str, commands: Mapping[str, Sequence[Mapping[str, Any]]]) -> Line:
    """Return what a line asks for.

    commands: full command name -> its options (raw payloads), which decide where one value ends and the next option
    begins. A line that cannot be read has `trouble`, one sentence.
    """
    text = text.strip()
    member: str | None = None
    if match := _WHO.match(text):
        member, text = match[1], text[match.end() :]
    if not text:
        return Line(member, None)
    if text in ORDERS:
        return Line(member, Order(text))
    if match := re.fullmatch(r"press\s+(\d+)", text):
        return Line(member, Press(int(match[1])))
    if not text.startswith("/"):
        return Line(member, Say(text))
    body = text[1:]
    for name in sorted(commands, key=len, reverse=True):
        if body == name or body.startswith(name + " "):
            return _options(member, name, body[len(name) :].strip(), [o["name"] for o in commands[name]])
    from engine.rules.names import nearest

    near = nearest(" ".join(body.split()[:2]), commands)
    hint = f"; nearest: {', '.join('/' + n for n in near)}" if near else ""
    return Line(member, None, f"There is no command “/{body}”{hint}.")


def _options(member: str | None, name: str, rest: str, known: Sequence[str]) -> Line:
    found = list(re.finditer(r"(?:^|(?<=\s))([a-z][a-z0-9_-]*):", rest))
    marks = [m for m in found if m[1] in known]
    if rest and (not marks or marks[0].start() != 0):
        options = ", ".join(f"{o}:" for o in known) or "none"
        return Line(member, None, f"“{rest}” does not start with an option of /{name}; its options are {options}.")
    values = {
        m[1]: rest[m.end() : marks[i + 1].start() if i + 1 < len(marks) else len(rest)].strip()
        for i, m in enumerate(marks)
    }
    return Line(member, Slash(name, values))
