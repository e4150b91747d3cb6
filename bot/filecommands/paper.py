"""The documents of `buildmoot sheet`: a sheet at a level, or the plan of all levels, as PDF or picture."""

import argparse
import sys
from pathlib import Path

from bot.filecommands.reading import Stop
from engine.build.document import Build
from engine.publish.paper import Template, compiled, plan_data, sheet_data
from engine.rules.catalog import Catalog


def write_paper(args: argparse.Namespace, build: Build, catalog: Catalog, states: tuple[str, ...]) -> None:
    """Write what `--pdf` and `--png` ask for and say where it is; `-` is standard output.

    Raises: Stop if a file cannot be written.
    """
    template: Template = "plan" if args.all else "sheet"
    if states and args.all:
        raise Stop("buildmoot sheet: the plan of all levels counts no states; leave out --while")
    data = plan_data(build, catalog) if args.all else sheet_data(build, catalog, args.level, states)
    what = "plan of all levels" if args.all else f"sheet at level {args.level}"
    for place, form in ((args.pdf, "pdf"), (args.png, "png")):
        if not place:
            continue
        made = compiled(template, data, args.paper, "pdf" if form == "pdf" else "png")
        if place == "-":
            sys.stdout.buffer.write(made)
            sys.stdout.buffer.flush()
            continue
        try:
            Path(place).write_bytes(made)
        except OSError as error:
            raise Stop(f"{place}:1:1: the file cannot be written ({error.strerror})") from error
        print(f"{place}: {what} of {build.name}, {args.paper}", file=sys.stderr if args.json else sys.stdout)
