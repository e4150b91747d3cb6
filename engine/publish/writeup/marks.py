"""Where the marks of a Markdown text stand, to the character.

The text is read by a CommonMark parser, so code, HTML and escaped brackets are no marks. The parser tells lines and,
for inline text, places inside a block's content; a content line is the end of its source line (without what the line
began with: indentation, `>`, list signs), which gives the place in the source.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final
from urllib.parse import unquote

from markdown_it import MarkdownIt
from markdown_it.rules_inline import StateInline, autolink, backtick, html_inline, image, link
from markdown_it.token import Token

SCHEME: Final = "num:"
BOM: Final = "\ufeff"
_NEWLINE: Final = re.compile(r"\r\n?|\n")
# A mark in its usual form. Nothing in these brackets can end them early or hold another link, so that this is a link
# wherever CommonMark looks for one, and the parser's own rule, which costs ten times as much, need not be asked.
_PLAIN: Final = re.compile(r"\[(?P<text>[^\[\]`\\<\n]*)\]\((?P<href>num:[0-9]{1,9}/[a-z0-9._-]+)\)")
_LEVEL: Final = re.compile(r"\b(?:level|lvl|lv)\.?\s*(\d{1,2})\b", re.I)


@dataclass(frozen=True, slots=True)
class Mark:
    """One link whose target begins with `num:`. All places are offsets in the text as given.

    start, end: the whole link. text_start, text_end: what stands in its brackets. target: what follows `num:`.
    line, column: of its start, from 1. inline: whether it is written `[text](num:...)`; only then it can be filled.
    """

    start: int
    end: int
    text_start: int
    text_end: int
    text: str
    target: str
    line: int
    column: int
    inline: bool = True


@dataclass(frozen=True, slots=True)
class Prose:
    """The inline text of one block, to look for numbers in.

    text: what is read, as long as the block's content, with marks, code, HTML and pictures blanked. shown: the same
    unblanked. lines: (offset in text, source line from 1) of each content line. level: what the headings above say, if
    anything.
    """

    text: str
    shown: str
    lines: tuple[tuple[int, int], ...]
    level: int | None

    def line_at(self, place: int) -> int:
        """Return the source line of a place in the text."""
        return self.lines[bisect_right(self.lines, place, key=lambda line: line[0]) - 1][1]


@dataclass(frozen=True, slots=True)
class Scanned:
    """What was found in a text, in the order of its lines."""

    text: str
    marks: tuple[Mark, ...]
    prose: tuple[Prose, ...]


@dataclass
class _Lines:
    """The lines of a text without their ends, and where each begins."""

    starts: list[int] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, text: str) -> _Lines:
        lines = cls()
        start = 0
        for newline in _NEWLINE.finditer(text):
            lines.starts.append(start)
            lines.texts.append(text[start : newline.start()])
            start = newline.end()
        lines.starts.append(start)
        lines.texts.append(text[start:])
        return lines


@lru_cache(maxsize=1)
def _parser() -> MarkdownIt:
    """Return a CommonMark parser that leaves inline text alone and notes where its inline rules matched."""
    parser = MarkdownIt("commonmark")
    parser.core.ruler.disable(["inline", "text_join"])
    rules: dict[str, Callable[[StateInline, bool], bool]] = {
        "link": link,
        "image": image,
        "autolink": autolink,
        "html_inline": html_inline,
        "backticks": backtick,
    }
    for name, rule in rules.items():
        noted = _noted(name, rule)
        parser.inline.ruler.at(name, _plain_first(noted) if name == "link" else noted)
    return parser


def _plain_first(rule: Callable[[StateInline, bool], bool]) -> Callable[[StateInline, bool], bool]:
    def linked(state: StateInline, silent: bool) -> bool:
        plain = _PLAIN.match(state.src, state.pos, state.posMax)
        if plain is None:
            return rule(state, silent)
        if not silent and state.src is state.env.get("content"):
            state.env["spans"].append(("link", state.pos, plain.end(), plain["href"]))
        state.pos = plain.end()
        return True

    return linked


def _noted(name: str, rule: Callable[[StateInline, bool], bool]) -> Callable[[StateInline, bool], bool]:
    def noted(state: StateInline, silent: bool) -> bool:
        start, before = state.pos, len(state.tokens)
        if not rule(state, silent):
            return False
        # Text inside a picture's description is parsed as a text of its own; its places mean nothing here.
        if not silent and state.src is state.env.get("content"):
            opened = next((t for t in state.tokens[before:] if t.type == "link_open"), None)
            href = str(opened.attrGet("href") or "") if opened is not None else ""
            state.env["spans"].append((name, start, state.pos, href))
        return True

    return noted


def scan(text: str) -> Scanned:
    """Return the marks and the prose of a Markdown text. A broken text is no error: CommonMark reads anything."""
    offset = 1 if text.startswith(BOM) else 0
    body = text[offset:]
    lines = _Lines.of(body)
    parser = _parser()
    env: dict[str, Any] = {}
    marks: list[Mark] = []
    prose: list[Prose] = []
    headings: list[tuple[int, int | None]] = []
    for before, token in _inlines(parser.parse(body, env)):
        content = token.content
        env["content"], env["spans"] = content, []
        parser.inline.parse(content, parser, env, [])
        spans: list[tuple[str, int, int, str]] = env["spans"]
        places = _Places(content, token, lines, heading=before)
        marks += _marks(content, spans, places, offset)
        if before:
            depth = int(before[1:])
            del headings[next((i for i, (d, _) in enumerate(headings) if d >= depth), len(headings)) :]
            found = _LEVEL.findall(content)
            headings.append((depth, int(found[0]) if len(set(found)) == 1 else None))
        level = next((at for _, at in reversed(headings) if at is not None), None)
        prose.append(Prose(_blanked(content, spans), content, places.lines(), level))
    return Scanned(text, tuple(marks), tuple(prose))


def _inlines(tokens: list[Token]) -> Iterator[tuple[str, Token]]:
    """Yield every block with inline text, with `h1` ... `h6` before those of headings, else an empty text."""
    previous: Token | None = None
    for token in tokens:
        if token.type == "inline" and token.map is not None:
            yield (previous.tag if previous is not None and previous.type == "heading_open" else ""), token
        previous = token


class _Places:
    """From a place in a block's content to its place in the source."""

    def __init__(self, content: str, token: Token, lines: _Lines, *, heading: str) -> None:
        assert token.map is not None
        self._first = token.map[0]
        self._lines = lines
        self._starts = [0]
        self._bases: list[int] = []
        for number, line in enumerate(content.split("\n")):
            source = lines.texts[self._first + number]
            self._starts.append(self._starts[-1] + len(line) + 1)
            if heading and "\n" not in content and line in source:
                # A heading may be closed by number signs, so its content is no end of its line.
                base = source.index(line)
            else:
                base = len(source.rstrip()) - len(line.rstrip())
            self._bases.append(base)

    def lines(self) -> tuple[tuple[int, int], ...]:
        """Return (offset in the content, source line from 1) of each content line."""
        return tuple((start, self._first + number + 1) for number, start in enumerate(self._starts[:-1]))

    def source(self, place: int) -> tuple[int, int, int]:
        """Return offset, line and column in the source."""
        number = bisect_right(self._starts, place, hi=len(self._starts) - 1) - 1
        line = self._first + number
        column = self._bases[number] + place - self._starts[number]
        return self._lines.starts[line] + column, line + 1, column + 1


def _marks(content: str, spans: list[tuple[str, int, int, str]], places: _Places, offset: int) -> Iterator[Mark]:
    for name, start, end, href in sorted(spans, key=lambda span: span[1]):
        if name not in ("link", "autolink") or href[: len(SCHEME)].lower() != SCHEME:
            continue
        inline = name == "link" and content[end - 1] == ")"
        label = _label_end(content, start) if inline else end - 1
        at, line, column = places.source(start)
        yield Mark(
            start=at + offset,
            end=places.source(end - 1)[0] + 1 + offset,
            text_start=at + 1 + offset,
            text_end=places.source(label)[0] + offset,
            text=content[start + 1 : label],
            target=unquote(href[len(SCHEME) :]),
            line=line,
            column=column,
            inline=inline,
        )


def _label_end(content: str, start: int) -> int:
    """Return where the closing bracket of a link's text stands, by the parser's own rule."""
    if plain := _PLAIN.match(content, start):
        return plain.end("text")
    parser = _parser()
    state = StateInline(content, parser, {}, [])
    state.posMax = len(content)
    return int(parser.helpers.parseLinkLabel(state, start, True))


def _blanked(content: str, spans: list[tuple[str, int, int, str]]) -> str:
    text = content.replace("\n", " ")
    parts = []
    done = 0
    for name, start, end, href in sorted(spans, key=lambda span: span[1]):
        if start >= done and (name != "link" or href[: len(SCHEME)].lower() == SCHEME):
            parts += [text[done:start], "\x00" * (end - start)]
            done = end
    return "".join([*parts, text[done:]])
