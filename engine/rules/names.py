"""Names and ids: how people write them, how they are compared, which one was probably meant."""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager

ID_PATTERN = r"[a-z0-9]+(?:-[a-z0-9]+)*"
# A folio's own id may name a version (`srd-5.1`).
FOLIO_PATTERN = r"[a-z0-9]+(?:[-.][a-z0-9]+)*"
_ID = re.compile(rf"^(?:{FOLIO_PATTERN}/)?{ID_PATTERN}$")
_QUOTES = str.maketrans("", "", "'’‘`´")
_SEPARATORS = re.compile(r"[\s\-_‐-―−/]+")


def is_id(text: str) -> bool:
    """Tell whether text is a kebab-case id, with or without a `folio/` before it."""
    return _ID.match(text) is not None


def slug(name: str) -> str:
    """Return the kebab-case id of an English name: `Hunter's Mark` gives `hunters-mark`."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    plain = plain.translate(_QUOTES).lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


# Plurals whose singular no ending tells.
_IRREGULAR = {
    "boxes": "box",
    "dwarves": "dwarf",
    "elves": "elf",
    "foxes": "fox",
    "halves": "half",
    "knives": "knife",
    "staves": "staff",
    "thieves": "thief",
    "werewolves": "werewolf",
    "wolves": "wolf",
}


def _singular(word: str) -> str:
    # `ss`, `us` and `is` endings are singular words (cutlass, lotus, chassis); `pixie` and `pixies` meet in `pixy`.
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if len(word) > 3 and word.endswith(("ies", "ie")):
        return word.removesuffix("s")[:-2] + "y"
    if len(word) > 4 and word.endswith(("ches", "shes", "sses")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and word[-2] not in "sui":
        return word[:-1]
    return word


_FOLDED: dict[str, str] = {}
_MOST_FOLDED = 65536


def fold(name: str) -> str:
    """Return the form in which names are compared: no case, accents, apostrophes, hyphens or plural endings."""
    known = _FOLDED.get(name)
    if known is None:
        known = _folded(name)
        if len(_FOLDED) < _MOST_FOLDED:
            _FOLDED[name] = known
    return known


def remember_folds(folds: Mapping[str, str]) -> None:
    """Take over forms worked out at an earlier start, so that thousands of names need not be folded again."""
    _FOLDED.update(folds)


@contextmanager
def noted_folds() -> Iterator[dict[str, str]]:
    """Note the forms of all names folded inside the block, for `remember_folds` at a later start."""
    before = dict(_FOLDED)
    noted: dict[str, str] = {}
    _FOLDED.clear()
    try:
        yield noted
    finally:
        noted.update(_FOLDED)
        _FOLDED.update(before)


def _folded(name: str) -> str:
    text = unicodedata.normalize("NFKD", name.replace("’", "'").replace("‘", "'"))
    text = "".join(c for c in text if not unicodedata.combining(c)).translate(_QUOTES).casefold()
    words = _SEPARATORS.sub(" ", text).split()
    return " ".join(_singular(w.rstrip(".")) for w in words)


def nearest(name: str, known: Iterable[str], limit: int = 3) -> list[str]:
    """Return up to `limit` of the known names that look most like `name`, best first; empty if none is near."""
    from rapidfuzz import fuzz, process, utils

    found = process.extract(
        name, list(known), scorer=fuzz.WRatio, processor=utils.default_process, limit=limit, score_cutoff=60
    )
    return [match[0] for match in found]
