"""Cards as text: what the platform's components say, for a terminal."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

_ESCAPED = re.compile(r"\\([\\*_~`|>#\[\]()<+\-.])")
_HEADING = re.compile(r"^#{1,3} ", re.MULTILINE)
_FENCE = re.compile(r"^```$\n?", re.MULTILINE)
_SMALL = re.compile(r"^-# ", re.MULTILINE)
_BOLD = re.compile(r"(?<!\\)\*\*(.+?)(?<!\\)\*\*")
_TIME = re.compile(r"<t:(\d+)(?::[tTdDfFsSR])?>")
_MENTION = re.compile(r"<@!?(\d+)>")
TEXT, ROW, BUTTON, SELECT, SECTION, GALLERY, FILE, SEPARATOR, CONTAINER = 10, 1, 2, 3, 9, 12, 13, 14, 17


@dataclass(frozen=True, slots=True)
class Button:
    """A button of a message as the terminal can press it."""

    label: str
    custom_id: str | None
    disabled: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A message as text: its lines, its buttons in order, and the alternative texts of its pictures."""

    lines: tuple[str, ...]
    buttons: tuple[Button, ...]


def plain(text: str, names: Mapping[int, str] | None = None) -> str:
    """Return the text a member sees: markup resolved, mentions by name, times as dates."""
    from datetime import UTC, datetime

    def when(match: re.Match[str]) -> str:
        return datetime.fromtimestamp(int(match[1]), UTC).strftime("%d %b %Y %H:%M UTC")

    def who(match: re.Match[str]) -> str:
        return "@" + (names or {}).get(int(match[1]), match[1])

    text = _TIME.sub(when, text)
    text = _MENTION.sub(who, text)
    text = _SMALL.sub("", _HEADING.sub("", _FENCE.sub("", text)))
    text = _BOLD.sub(r"\1", text)
    return _ESCAPED.sub(r"\1", text).replace("\u200b", "")


def shown(content: str, components: Iterable[Mapping[str, Any]], names: Mapping[int, str] | None = None) -> Shown:
    """Return a message's text and buttons. components: raw payloads, nested as the platform nests them."""
    lines: list[str] = plain(content, names).splitlines() if content else []
    buttons: list[Button] = []

    def walk(parts: Iterable[Mapping[str, Any]]) -> None:
        for part in parts:
            kind = part.get("type")
            if kind == TEXT:
                lines.extend(plain(part["content"], names).splitlines())
            elif kind == SEPARATOR:
                lines.append("")
            elif kind == BUTTON:
                buttons.append(Button(part.get("label", ""), part.get("custom_id"), bool(part.get("disabled"))))
            elif kind == SELECT:
                options = ", ".join(o["label"] for o in part.get("options", []))
                lines.append(f"choose: {options}")
            elif kind == GALLERY:
                lines.extend(f"picture: {item.get('description') or 'no description'}" for item in part["items"])
            elif kind == FILE:
                lines.append(f"file: {part.get('name') or part['file']['url'].rsplit('/', 1)[-1].split('?')[0]}")
            walk(part.get("components") or [])
            if part.get("accessory"):
                walk([part["accessory"]])

    walk(components)
    while lines and not lines[-1]:
        lines.pop()
    return Shown(tuple(lines), tuple(buttons))


LINE: Final = "─" * 35


def framed(who: str, message: Shown, first_button: int = 1) -> str:
    """Return a message for the terminal, its buttons numbered from `first_button` on."""
    out = [LINE, who, *message.lines]
    if message.buttons:
        row = [
            f"[{n} {b.label}{' (off)' if b.disabled else ''}]"
            for n, b in enumerate(message.buttons, start=first_button)
        ]
        out += ["", "  ".join(row)]
    return "\n".join(out)
