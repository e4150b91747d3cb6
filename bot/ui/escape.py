"""What members typed, made safe to show: as the text it is, without markup, links or mentions."""

import re

_MARKUP = re.compile(r"([\\*_~`|>#\[\]()<])")
_AT = re.compile(r"@(?=everyone|here|&|!|\d)")
_LINE_START = re.compile(r"^(\s*)(-|\+|\d+\.)(?=\s)", re.MULTILINE)
_SCHEME = re.compile(r"(?i)\b(https?|ftp|discord):(?=//)")
ZERO_WIDTH = "\u200b"


def plain(text: str) -> str:
    """Return text that the platform shows letter by letter; line breaks become spaces."""
    return paragraph(" ".join(text.split()))


def paragraph(text: str) -> str:
    """Return text that the platform shows letter by letter, line breaks kept."""
    text = _MARKUP.sub(r"\\\1", text)
    text = _AT.sub(f"@{ZERO_WIDTH}", text)
    text = _SCHEME.sub(rf"\1{ZERO_WIDTH}:", text)
    return _LINE_START.sub(r"\1\\\2", text)


def label(text: str, limit: int = 80) -> str:
    """Return text cut to the length of a button label, choice or title, with `…` where it was cut."""
    flat = " ".join(text.split())
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"
