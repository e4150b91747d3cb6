"""Draws a `Plot` as a PNG. Runs in a worker process: matplotlib is imported when the first picture is drawn."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from math import cos, hypot, radians, sin
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any, Final

from engine.publish.plots import Panel, Plot

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Colours that people with any colour vision can tell apart; of the eight the four with most contrast on the ground.
# Source: Okabe and Ito, Color Universal Design (2008).
PALETTE: Final = ("#0072B2", "#D55E00", "#009E73", "#CC79A7")
STROKES: Final = ("-", "--", "-.", ":")
MARKS: Final = ("o", "s", "^", "D")
HATCHES: Final = ("", "//", "..", "xx")
# A ground of its own, so that the picture reads the same in a dark and in a light chat.
GROUND: Final = "#f7f7f5"
INK: Final = "#1c1c1c"
FAINT: Final = "#b9b9b4"
WIDTH: Final = 6.4
HEIGHT: Final = 4.2
DPI: Final = 150
# Of what is said of points: inches a line takes, its longest in characters; points of type between middles of letters.
_KEY_LINE: Final = 0.2
_KEY_WIDTH: Final = 76
_APART: Final = 14.5
_HEADROOM: Final = 1.1


def draw(plot: Plot) -> bytes:
    """Return the picture as PNG, 960 pixels wide and 630 high for each panel, more below one with labels."""
    target = io.BytesIO()
    with styled():
        drawn(plot).savefig(target, format="png", metadata={"Software": None})
    return target.getvalue()


@contextmanager
def styled() -> Iterator[None]:
    """Let the drawing library draw in our manner for the length of a block."""
    import matplotlib as mpl

    mpl.use("Agg")
    # The stubs of newer releases list every setting by name, those of older ones do not.
    style: Any = {
        "font.size": 13,
        "text.color": INK,
        "axes.labelcolor": INK,
        "axes.edgecolor": INK,
        "xtick.color": INK,
        "ytick.color": INK,
        "axes.facecolor": GROUND,
        "figure.facecolor": GROUND,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "figure.constrained_layout.w_pad": 0.1,
        "figure.constrained_layout.h_pad": 0.08,
    }
    with mpl.rc_context(style):
        yield


def drawn(plot: Plot) -> Figure:
    """Return the picture as a figure of the drawing library, everything in its place. Call it inside `styled`."""
    from matplotlib.figure import Figure

    below = sum(len(panel.labels) for panel in plot.panels) * _KEY_LINE
    figure = Figure(figsize=(WIDTH, HEIGHT * len(plot.panels) + below), dpi=DPI, layout="constrained")
    figure.suptitle(_text(textwrap.fill(plot.title, 48)), fontsize=15, fontweight="bold")
    axes = figure.subplots(len(plot.panels), 1, squeeze=False)
    for place, panel in enumerate(plot.panels):
        _panel(axes[place][0], panel)
    figure.supxlabel(_text(textwrap.fill(plot.source, 84)), fontsize=9, x=0.01, ha="left")
    if any(panel.labels for panel in plot.panels):
        figure.draw_without_rendering()  # now it is known where everything stands
        figure.set_layout_engine("none")
        for place, panel in enumerate(plot.panels):
            _tags(axes[place][0], panel)
    return figure


def _key(axes: Axes, panel: Panel) -> None:
    """Write below a panel what is said of its points."""
    lines = [f"({letter}) {label.text}" for letter, label in zip(ascii_lowercase, panel.labels, strict=False)]
    axes.annotate(
        _text("\n".join(textwrap.shorten(line, _KEY_WIDTH, placeholder="…") for line in lines)),
        (0, 0),
        xycoords="axes fraction",
        xytext=(0, -48),
        textcoords="offset points",
        va="top",
        fontsize=10,
        linespacing=1.3,
    )


def _tags(axes: Axes, panel: Panel) -> None:
    """Put the letters beside their points, so that none lies on another, nor on a point."""
    points = [(x, y * 100 if panel.percent else y) for series in panel.series for x, y in series.points]
    taken = [tuple(map(float, place)) for place in axes.transData.transform(points)]
    for letter, label in zip(ascii_lowercase, panel.labels, strict=False):
        y = label.y * 100 if panel.percent else label.y
        at = tuple(map(float, axes.transData.transform((label.x, y))))
        step = free_place((at[0], at[1]), [(each[0], each[1]) for each in taken], DPI / 72)
        taken.append((at[0] + step[0] * DPI / 72, at[1] + step[1] * DPI / 72))
        # Letters over all lines, so that a line never runs through one.
        line = {"arrowstyle": "-", "color": INK, "linewidth": 0.7, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", (label.x, y), xytext=step, textcoords="offset points", arrowprops=line, zorder=4)
        axes.annotate(
            letter,
            (label.x, y),
            xytext=step,
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=10,
            bbox={"boxstyle": "circle,pad=0.15", "facecolor": GROUND, "edgecolor": INK, "linewidth": 0.7},
            zorder=5,
        )


def free_place(at: tuple[float, float], taken: Sequence[tuple[float, float]], scale: float) -> tuple[float, float]:
    """Return where a letter may stand beside a point, in points of type from it: the nearest place that is free.

    at: the point. taken: where others stand; both in pixels, of which `scale` make a point of type.
    """
    best, widest = (0.0, 0.0), -1.0
    for away in (17, 31, 45, 59):
        for turn in (90, 270, 135, 45, 225, 315, 110, 70, 160, 20, 200, 340):
            step = away * cos(radians(turn)), away * sin(radians(turn))
            room = min(
                (hypot(at[0] + step[0] * scale - x, at[1] + step[1] * scale - y) for x, y in taken),
                default=_APART * scale,
            )
            if room >= _APART * scale:
                return step
            if room > widest:
                best, widest = step, room
    return best


def _text(text: str) -> str:
    """Return text that is shown as it stands: a dollar sign begins no formula."""
    return text.replace("$", r"\$")


def _panel(axes: Axes, panel: Panel) -> None:
    from matplotlib.ticker import MaxNLocator

    if panel.style == "names":
        _names(axes, panel)
    else:
        for place, series in enumerate(panel.series):
            xs = [x for x, _ in series.points]
            ys = [y * 100 if panel.percent else y for _, y in series.points]
            colour, stroke, mark = PALETTE[place % 4], STROKES[place % 4], MARKS[place % 4]
            label = _text(series.label)
            if panel.style == "bars":
                axes.bar(xs, ys, width=0.85, color=colour, hatch=HATCHES[place % 4], label=label)
            elif panel.style == "steps":
                axes.plot(xs, ys, color=colour, linestyle=stroke, linewidth=2.2, label=label)
                if len(panel.series) == 1:
                    axes.fill_between(xs, ys, color=colour, alpha=0.25, linewidth=0)
            else:
                axes.plot(xs, ys, color=colour, linestyle=stroke, marker=mark, markersize=5, linewidth=2.2, label=label)
        axes.set_ylim(bottom=0)
        if panel.percent and panel.style == "line":
            axes.set_ylim(0, 103)
        axes.grid(axis="y", color=FAINT, linewidth=0.6)
        axes.set_axisbelow(True)
        if all(x == int(x) for series in panel.series for x, _ in series.points):
            axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        if not panel.percent and all(y == int(y) for series in panel.series for _, y in series.points):
            axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    if panel.labels:
        axes.set_ylim(top=axes.get_ylim()[1] * _HEADROOM)
        _key(axes, panel)
    axes.set_xlabel(_text(panel.x))
    axes.set_ylabel(_text(panel.y))
    if panel.mark is not None:
        axes.axvline(panel.mark[0], color=INK, linestyle=":", linewidth=1.5, label=_text(panel.mark[1]))
    if len(panel.series) > 1 or panel.mark is not None:
        axes.legend(fontsize=11, frameon=False)


def _names(axes: Axes, panel: Panel) -> None:
    points = panel.series[0].points
    values = [y * 100 if panel.percent else y for _, y in points]
    bars = axes.barh(range(len(values)), values, color=[PALETTE[place % 4] for place in range(len(values))])
    for place, bar in enumerate(bars):
        bar.set_hatch(HATCHES[place % 4])
    axes.set_yticks(range(len(values)), [_text(textwrap.fill(name, 18)) for name in panel.names])
    axes.invert_yaxis()
    axes.bar_label(bars, fmt="%.0f %%" if panel.percent else "%.1f", padding=4)
    axes.margins(x=0.15)
    if panel.percent:
        axes.set_xlim(0, 115)
