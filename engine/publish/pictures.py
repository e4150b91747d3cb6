"""Draws a `Plot` as a PNG. Runs in a worker process: matplotlib is imported when the first picture is drawn."""

from __future__ import annotations

import io
import textwrap
from typing import TYPE_CHECKING, Any, Final

from engine.publish.plots import Panel, Plot

if TYPE_CHECKING:
    from matplotlib.axes import Axes

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


def draw(plot: Plot) -> bytes:
    """Return the picture as PNG, 960 pixels wide and 630 high for each panel."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib.figure import Figure

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
        figure = Figure(figsize=(WIDTH, HEIGHT * len(plot.panels)), dpi=DPI, layout="constrained")
        figure.suptitle(_text(textwrap.fill(plot.title, 48)), fontsize=15, fontweight="bold")
        axes = figure.subplots(len(plot.panels), 1, squeeze=False)
        for place, panel in enumerate(plot.panels):
            _panel(axes[place][0], panel)
        figure.supxlabel(_text(textwrap.fill(plot.source, 84)), fontsize=9, x=0.01, ha="left")
        target = io.BytesIO()
        figure.savefig(target, format="png", metadata={"Software": None})
    return target.getvalue()


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
    for place, beside in enumerate(panel.labels):
        # In turn above and below, so that neighbours stay apart; on a ground of their own over the lines.
        axes.annotate(
            _text(beside.text),
            (beside.x, beside.y),
            xytext=(0, 14 if place % 2 == 0 else -20),
            textcoords="offset points",
            ha="center",
            fontsize=9,
            bbox={"boxstyle": "round,pad=0.15", "facecolor": GROUND, "edgecolor": FAINT, "linewidth": 0.6},
            arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.6},
        )
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
