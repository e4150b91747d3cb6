"""`buildmoot against`: a build at a level against creatures of its rules, as exact average chances."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop, read_build
from bot.filecommands.sheet import check_level
from engine.odds.words import percent
from engine.problem import Refused
from engine.publish.standing import Against, Among, against, chosen
from engine.publish.words import ability


def run(args: argparse.Namespace) -> int:
    """Print the averages and the best and worst matches. Exit 0; bad input is a Stop."""
    build, catalog = read_build(args.file, Shelf(args.folio))
    if build.top == 0:
        raise Stop(f"{args.file}:1:1: the build has no levels yet; add a line such as `1 Rogue`")
    level = build.top if args.level is None else args.level
    check_level(args.file, build, level)
    some = chosen(catalog, args.challenge, args.type, args.name)
    if isinstance(some, Refused):
        raise Stop(f"buildmoot against: {some.sentence}")
    found = against(build, catalog, level, some)
    if args.json:
        print_json(found.as_json())
        return 0
    _print(found)
    return 0


def _print(found: Against) -> None:
    print(f"Level {found.level} against {found.count} creature{'' if found.count == 1 else 's'} ({found.words})")
    print(f"It hits them {percent(found.hits)} of the time, with {found.attack}.")
    if found.hit_by is not None:
        print(
            f"They hit its armor class {found.ac} {percent(found.hit_by)} of the time; {found.harmless} attack nobody."
        )
    if found.dc is not None:
        print(f"They fail its save DC {found.dc}, {found.resisting} with magic resistance counted as advantage:")
        for each, chance in found.fails.items():
            print(f"  {ability(each):13} {chance:6.1%}, the first time {found.sticks[each]:6.1%}")
        print(f"  The first time: {found.legendary} have legendary resistance and then do not fail.")
    for effect, share in found.endings.items():
        print(f"{effect} takes out {percent(share)} of them.")
    if found.partial:
        print(f"Partial: {found.partial}.")
    for title, matches in (("Best", found.best), ("Worst", found.worst)):
        print(f"{title} matches:")
        print(*(f"  {match_text(match)}" for match in matches), sep="\n")


def match_text(match: Among) -> str:
    """Return one match as a line."""
    hit_by = f"hit by it {percent(match.hit_by)}" if match.hit_by is not None else "it attacks nobody"
    who = f"{match.name} (challenge {match.challenge})"
    return f"{who}: hits it {percent(match.hits)}, {hit_by}, fails {percent(match.fails)}"
