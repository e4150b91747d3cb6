"""`buildmoot standing`: how a build stands among the reference builds, level by level, and what follows in words."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop, read_build
from engine.publish.standing import called, standing, told
from engine.publish.standing.standing import RULE


def run(args: argparse.Namespace) -> int:
    """Print the standing. Exit 0; a build without levels, or of rules without reference builds, is bad input."""
    build, catalog = read_build(args.file, Shelf(args.folio))
    found = standing(build, catalog)
    if not found.ranks:
        raise Stop(f"{args.file}:1:1: {'; '.join(found.partial)}")
    if args.json:
        document = found.as_json()
        if args.details:
            document |= {"gaps": list(found.gaps), "typical": list(found.counts), "partial": list(found.partial)}
        print_json(document)
        return 0
    print(f"{found.name}, levels 1 to {len(found.ranks)}")
    for title, sentences in (("Strengths", found.strengths), ("Weaknesses", found.weaknesses), ("Gaps", found.gaps)):
        print(f"{title}:")
        print(*(f"  {sentence}" for sentence in sentences or ("none found",)), sep="\n")
    runs = ", ".join(f"{first} to {last}" if first < last else str(first) for first, last in found.weak_levels)
    print(f"Levels at which it lags: {runs or 'none'}")
    print(f"At level {len(found.ranks)}:")
    for name, rank in found.ranks[-1].items():
        print(f"  {called(name):24} {told(name, rank.value):>6}  percentile {rank.percentile:5.1f} of {rank.of}")
    for sentence in found.partial:
        print(f"Partial: {sentence}.")
    if args.details:
        print(RULE)
        print(*found.counts, sep="\n")
    return 0
