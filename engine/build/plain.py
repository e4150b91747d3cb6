"""Plain characters: how typed and pasted text is brought to the one form in which documents keep it."""

import unicodedata
from collections.abc import Iterable
from typing import Final


def _to(target: str | None, codes: Iterable[int]) -> dict[int, str | None]:
    return dict.fromkeys(codes, target)


_TABLE: Final[dict[int, str | None]] = {
    # Blanks of every width, tabs, line ends and other control characters.
    **_to(" ", (*range(0x20), *range(0x7F, 0xA1), 0x1680, *range(0x2000, 0x200B), 0x202F, 0x205F, 0x3000)),
    **_to(" ", (0x2028, 0x2029)),
    # Marks that nobody sees: byte-order mark, zero-width blank, word joiner, soft hyphen, direction marks.
    **_to(None, (0xFEFF, 0x200B, 0x2060, 0x00AD, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))),
    **_to('"', (0x201C, 0x201D, 0x201E, 0x201F)),
    **_to("'", (0x2018, 0x2019, 0x201A, 0x201B)),
    **_to("-", (*range(0x2010, 0x2016), 0x2212)),
}


def characters(text: str) -> str:
    """Return text in NFC with plain quotes, dashes and blanks; every control character is a blank."""
    if text.isascii() and text.isprintable():
        return text
    return unicodedata.normalize("NFC", text.translate(_TABLE)).translate(_TABLE)


def plain(text: str) -> str:
    """Return `characters(text)` without blanks at either end; applying it twice changes nothing."""
    return characters(text).strip()
