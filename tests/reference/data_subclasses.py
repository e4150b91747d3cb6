"""Subclass features, starting equipment and invocations of the open data set, in the shape of the text's records."""

from __future__ import annotations

from typing import Any

from tests.reference.figures import Record, slug

# Features with a subclass that are no heading of the text: the choice of land and the rows of its spell tables.
NO_HEADING = {"circle-of-the-land", "circle-spells"}


def features(entries: list[dict[str, Any]], levels: list[dict[str, Any]]) -> list[Record]:
    """Features of subclasses: the id says whose row lists the feature, `subclass` what its own record says."""
    rows = {each["index"]: row for row in levels if "subclass" in row for each in row["features"]}
    found = []
    for entry in entries:
        key = slug(entry["name"])
        row = rows.get(entry["index"])
        if "parent" in entry or key in NO_HEADING or (row is None and "subclass" not in entry):
            continue
        subclass = entry.get("subclass", {}).get("index")
        found.append(
            {
                "id": f"{row['subclass']['index'] if row else subclass}-{key}",
                "class": entry["class"]["index"],
                "subclass": subclass,
                "level": entry["level"],
            }
        )
    return found


def option_things(option: dict[str, Any]) -> list[list[int | str]]:
    """One option of a choice as [count, thing] pairs, sorted by thing."""
    kind = option["option_type"]
    if kind == "counted_reference":
        found: list[list[int | str]] = [[option["count"], option["of"]["index"]]]
    elif kind == "choice":
        choice = option["choice"]
        found = [[choice["choose"], choice["from"]["equipment_category"]["index"]]]
    else:
        found = [pair for each in option["items"] for pair in option_things(each)]
    return sorted(found, key=lambda pair: str(pair[1]))


def starting_equipment(entries: list[dict[str, Any]]) -> list[Record]:
    """For each class its fixed things and its choices; a choice out of one group counts as fixed."""
    found = []
    for entry in entries:
        fixed: list[list[int | str]] = [
            [each["quantity"], each["equipment"]["index"]] for each in entry["starting_equipment"]
        ]
        choices = []
        for each in entry["starting_equipment_options"]:
            source = each["from"]
            if "equipment_category" in source:
                fixed.append([each["choose"], source["equipment_category"]["index"]])
            else:
                choices.append(sorted(option_things(option) for option in source["options"]))
        found.append(
            {
                "id": entry["index"],
                "fixed": sorted(fixed, key=lambda pair: str(pair[1])),
                "choices": sorted(choices, key=str),
            }
        )
    return found


def invocations(entries: list[dict[str, Any]]) -> list[Record]:
    """Eldritch invocations with their prerequisites: warlock level, pact, cantrip."""
    found = []
    for entry in entries:
        if (
            entry.get("parent", {}).get("index") != "eldritch-invocations"
            and "Eldritch Invocation: " not in entry["name"]
        ):
            continue
        record: Record = {
            "id": slug(entry["name"].removeprefix("Eldritch Invocation: ")),
            "level": 0,
            "pact": None,
            "spell": None,
        }
        for need in entry["prerequisites"]:
            if need["type"] == "level":
                record["level"] = int(need["level"])
            elif need["type"] == "feature":
                record["pact"] = need["feature"].rpartition("/")[2].removeprefix("pact-of-the-")
            else:
                record["spell"] = need["spell"].rpartition("/")[2]
        found.append(record)
    return found
