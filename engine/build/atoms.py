"""Items taken apart into what is joined one by one, and put together again."""

from collections.abc import Iterable
from typing import Any, Final

# Keywords under which one line may hold several picks side by side; those of both sides are kept. Under any other
# keyword two sides that pick differently on one line clash.
MANY: Final = frozenset(
    {"skill", "expertise", "language", "tool", "cantrip", "spell", "copied", "secret", "prepare", "kind", "invocation"}
    | {"metamagic", "mastery"}
)
Data = dict[str, Any]
Key = tuple[Any, ...]


def numbered(pairs: Iterable[tuple[Key, Any]]) -> list[tuple[Key, Any]]:
    """Return the pairs with a running number in each key, so that equal ones stay apart."""
    seen: dict[Key, int] = {}
    found = []
    for key, value in pairs:
        seen[key] = seen.get(key, 0) + 1
        found.append(((*key, seen[key]), value))
    return found


def atoms_of(items: list[Data]) -> list[tuple[Key, Any]]:
    """Take items apart into what is joined one by one: picks by keyword and name, all increases of a line together."""
    found: list[tuple[Key, Any]] = []
    increases: list[Data] = []
    for item in items:
        kind = item["kind"]
        if kind == "increase":
            if not increases:
                found.append((("increase", "increases"), increases))
            increases.append(item)
        elif kind in ("gain", "lose"):
            found += [((kind, kind, pick["id"]), {"kind": kind, "pick": pick}) for pick in item["picks"]]
        elif kind == "choose" and item["keyword"] in MANY:
            head = {k: v for k, v in item.items() if k != "picks"}
            key = (kind, item["keyword"], item.get("of"))
            found += [((*key, pick["id"]), {**head, "pick": pick}) for pick in item["picks"]]
        elif kind == "choose":
            found.append(((kind, item["keyword"], item.get("of")), item))
        elif kind == "swap":
            found.append(((kind, item["keyword"], item["old"]["id"]), item))
        elif kind == "granted":
            found.append(((kind, item["text"], item["item"]["kind"], item["item"].get("keyword")), item))
        else:
            found.append(((kind, item.get("flag") or item["text"]), item))
    return numbered(found)


def group_of(key: Key) -> Key:
    """Return the keyword part of a key: what two sides may fill differently."""
    return key[:3] if key[0] == "choose" else key[:2]


def assembled(pairs: list[tuple[Key, Any]]) -> list[Data]:
    """Put atoms together again; picks of one keyword that stand side by side are one item."""
    found: list[Data] = []
    last: Key | None = None
    for key, value in pairs:
        if isinstance(value, list):
            found += value
        elif "pick" in value:
            head = {k: v for k, v in value.items() if k != "pick"}
            if last == group_of(key):
                found[-1]["picks"].append(value["pick"])
            else:
                found.append({**head, "picks": [value["pick"]]})
        else:
            found.append(value)
        last = group_of(key) if isinstance(value, dict) and "pick" in value else None
    return found
