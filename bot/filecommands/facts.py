"""`buildmoot facts`: what a rules release says of one thing, or all of one kind, as facts."""

import argparse
from typing import Any

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop
from engine.problem import Refused
from engine.publish.facts import Facts, facts_of
from engine.rules.catalog import Catalog, Named

KINDS = ("class", "subclass", "species", "background", "feat", "spell", "item", "creature", "feature", "condition")


def run(args: argparse.Namespace) -> int:
    """Print one object if a NAME is given, else `{"items": [...]}`.

    Where several owners give a feature of the name, the object is the first and `others` names the rest; each is
    printed by `OWNER/NAME` (`Ranger/Extra Attack`).
    """
    shelf = Shelf(args.folio)
    catalog = shelf.catalog(args.rules)
    if isinstance(catalog, Refused):
        raise Stop(f"buildmoot facts: {catalog.sentence}")
    if args.kind not in KINDS:
        raise Stop(f"buildmoot facts: “{args.kind}” is no kind; expected one of {', '.join(KINDS)}")
    if args.name is None:
        items = [fact(n, catalog) for n in catalog.every(args.kind)]
        if args.json:
            print_json({"items": items})
        else:
            for named in catalog.every(args.kind):
                owner = owner_of(named, catalog)
                print(f"{named.name} ({owner['name']})" if owner is not None else named.name)
        return 0
    found = catalog.find(args.kind, args.name)
    if not found:
        near = catalog.suggest(args.kind, args.name)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        raise Stop(f"buildmoot facts: no {args.kind} is called “{args.name}”{hint}")
    one = fact(found[0], catalog)
    if found[1:]:
        one["others"] = [{"owner": owner_of(n, catalog), "source": source_of(n, catalog)} for n in found[1:]]
    if args.json:
        print_json(one)
    else:
        print_facts(facts_of(found[0], catalog))
        for other in one.get("others", ()):
            print(f"Of the same name: {other['source']}")
    return 0


def print_facts(facts: Facts) -> None:
    """Print facts for people: what it is, its figures line by line, tables as they are, where it stands."""
    print(f"{facts.name} · {facts.kind}\n{facts.first}")
    for section in facts.sections:
        if section.heading:
            print(f"\n{section.heading}")
        for line in section.lines:
            print(f"  {line}")
        for table in section.tables:
            print(f"\n{table}")
    print(f"\n{facts.source}")


def fact(named: Named, catalog: Catalog) -> dict[str, Any]:
    """Return every fact of an entry's content model, what gives it (for features), and where it stands."""
    data: dict[str, Any] = {"id": named.id, "name": named.name}
    if named.entry is not None:
        data |= named.entry.model_dump(mode="json", by_alias=True)
    if named.owner is not None:
        data["owner"] = owner_of(named, catalog)
    data["source"] = source_of(named, catalog)
    return data


def owner_of(named: Named, catalog: Catalog) -> dict[str, str] | None:
    """Return kind, id and name of what gives a feature; None for anything else."""
    if named.owner is None:
        return None
    kind, id_ = named.owner
    return {"kind": kind, "id": id_, "name": catalog.name_of(kind, id_)}


def source_of(named: Named, catalog: Catalog) -> str:
    """Return where an entry stands; a feature stands with its owner."""
    if named.owner is not None:
        return catalog.source(*named.owner, named.name)
    return catalog.source(named.kind, f"{named.folio}/{named.id}")
