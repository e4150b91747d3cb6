"""Pictures of odds: what they show as data, and that they are drawn readably."""

import io
import subprocess
import sys
from itertools import combinations, pairwise
from math import dist

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from engine.odds import (
    D20,
    Attack,
    Check,
    Compare,
    Concentration,
    Contest,
    Creature,
    DeathSaves,
    DiceTotal,
    Fell,
    Group,
    Item,
    Save,
    Scores,
    answer_compare,
    ask,
    by_armor_class,
    needs_from,
)
from engine.problem import Refused
from engine.publish.odds_plots import plot_of
from engine.publish.pictures import GROUND, HATCHES, INK, MARKS, PALETTE, STROKES, draw, drawn, free_place, styled
from engine.publish.plots import Label, Panel, Plot, Series

QUESTIONS = {
    "check": Check(bonus=9, dc=20),
    "attack": Attack(bonus=8, ac=15, damage="1d8+4", attacks=2, once_per_turn="3d6"),
    "save": Save(dc=15, bonus=2, damage="8d6", half=True),
    "save of many": Save(dc=15, bonus=2, targets=6),
    "concentration": Concentration(bonus=5, hits=("22", "2d6+3", "40")),
    "dice": DiceTotal(dice="400d6"),
    "group": Group(dc=12, members=(D20(bonus=1),) * 5),
    "fell": Fell(dice="5d8", creatures=(Creature(name="crab", hit_points=7),) * 4),
    "scores": Scores(needs=needs_from({"dex": 13})),
    "contest": Contest(active=D20(bonus=3), other=D20()),
    "death": DeathSaves(),
}


def answer(name):
    found = ask(QUESTIONS[name])
    assert not isinstance(found, Refused)
    return found


def compared(*names):
    items = tuple(Item(label=f"{name} $x_1$", question=QUESTIONS[name]) for name in names)
    found = answer_compare(Compare(items=items))
    assert not isinstance(found, Refused)
    return found


PLOTS = {
    **{name: (lambda name=name: plot_of(answer(name))) for name in QUESTIONS},
    "by armor class": lambda: plot_of(answer("attack"), "armor class", "SRD 5.1"),
    "compared damage": lambda: plot_of(compared("attack", "attack")),
    "compared chances": lambda: plot_of(compared("check", "attack", "death")),
    "compared means": lambda: plot_of(compared("fell", "check")),
}


@pytest.mark.parametrize("name", PLOTS)
def test_every_picture_is_drawn_with_title_axes_source_and_message(name):
    plot = PLOTS[name]()
    assert plot.title
    assert "Buildmoot" in plot.source
    assert 40 < len(plot.alt) <= 1024
    for panel in plot.panels:
        assert panel.x
        assert panel.y or panel.style == "names"
        assert panel.style != "names" or len(panel.names) == len(panel.series[0].points)
        assert len(panel.series) <= len(PALETTE)
        assert all(len(series.points) <= 301 for series in panel.series)
    data = draw(plot)
    with Image.open(io.BytesIO(data)) as image:
        assert image.format == "PNG"
        assert image.size == (960, 630 * len(plot.panels))
        colours = {colour for _, colour in image.convert("RGB").getcolors(1_000_000)}
    assert len(data) < 500_000
    wanted = {PALETTE[place] for place in range(max(len(panel.series) for panel in plot.panels))}
    for shown in (GROUND, INK, *wanted):
        assert tuple(int(shown[place : place + 2], 16) for place in (1, 3, 5)) in colours, shown


def test_chances_by_dc_are_those_of_the_question():
    [panel] = plot_of(answer("check")).panels
    plain, better, worse = (dict(series.points) for series in panel.series)
    # Closed forms: n of 20, 1 - ((20 - n) / 20)^2, (n / 20)^2, n faces reaching the DC.
    for dc in range(10, 30):
        good = 30 - dc if dc > 10 else 20
        good = min(20, 21 - (dc - 9))
        assert plain[dc] == pytest.approx(good / 20)
        assert better[dc] == pytest.approx(1 - ((20 - good) / 20) ** 2)
        assert worse[dc] == pytest.approx((good / 20) ** 2)
    assert panel.mark == (20.0, "DC 20")


def test_points_of_other_pictures():
    first, second = plot_of(answer("attack"), "armor class").panels
    rows = by_armor_class(QUESTIONS["attack"])
    assert [y for _, y in first.series[0].points] == [row.hit for row in rows]
    assert [y for _, y in second.series[0].points] == [row.mean for row in rows]
    assert not second.percent
    [panel] = plot_of(answer("concentration")).panels
    assert [y for _, y in panel.series[0].points] == [hit.still for hit in answer("concentration").hits]
    for name in ("attack", "save", "dice", "group", "fell", "scores"):
        [panel] = plot_of(answer(name)).panels
        assert sum(y for _, y in panel.series[0].points) == pytest.approx(1, abs=0.0021)


def test_a_source_names_the_rules_where_they_took_part():
    assert plot_of(answer("dice")).source.endswith("Buildmoot")
    assert plot_of(answer("check"), rules="SRD 5.1").source.endswith("rules: SRD 5.1")


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.1."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_colours_are_told_apart_without_colour():
    """Okabe and Ito's palette (published hex values); a line style, mark and hatch each; contrast by WCAG 2.1."""
    published = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
    assert set(PALETTE) <= published
    assert len(set(PALETTE)) == len(set(STROKES)) == len(set(MARKS)) == len(set(HATCHES)) == 4
    ground = luminance(GROUND) + 0.05
    assert ground / (luminance(INK) + 0.05) > 12
    assert all(ground / (luminance(colour) + 0.05) > 2.7 for colour in PALETTE)


def test_text_with_dollar_signs_is_no_formula():
    points = ((0.0, 0.5), (1.0, 0.25))
    panel = Panel(x="$a_", y="", series=(Series(label="$", points=points),), style="names", names=("$x^", "100 $ tea"))
    assert draw(Plot(title="$\\frac", panels=(panel,), source="$", alt="")).startswith(b"\x89PNG")


def test_what_describes_a_picture_loads_no_drawing_library():
    code = (
        "import sys; from engine.odds import Check, ask; from engine.publish.odds_plots import plot_of; "
        "from engine.publish.pictures import draw; from engine.publish.pool import Workers; "
        "plot_of(ask(Check(dc=15))); print('matplotlib' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def crowded(panels: int) -> Plot:
    """Four lines that all but lie on each other, three points of each labelled at the same places."""
    series = tuple(
        Series(label=f"line {n}", points=tuple((float(x), float(x * 9 + n)) for x in range(1, 21))) for n in range(4)
    )
    words = "level 12 Wizard: +1 Dex, +1 Con; spells of the longest names $x$"
    labels = tuple(Label(x=float(x), y=float(x * 9 + n), text=f"{n}, {words}") for n in range(4) for x in (11, 12, 13))
    panel = Panel(x="level", y="hit points", series=series, percent=False, labels=labels)
    return Plot(title="Crowded", panels=(panel,) * panels, source="test", alt="")


@pytest.mark.parametrize("panels", [1, 3])
def test_letters_lie_on_no_other_letter_and_their_words_below_the_panel(panels):
    with styled():
        figure = drawn(crowded(panels))
        renderer = FigureCanvasAgg(figure).get_renderer()
        figure.draw(renderer)
    for axes in figure.axes:
        letters = [text for text in axes.texts if len(text.get_text()) == 1]
        [words] = [text for text in axes.texts if len(text.get_text()) > 1]
        assert [text.get_text() for text in letters] == list("abcdefghijkl")
        rings = [text.get_bbox_patch().get_window_extent(renderer) for text in letters]
        for ring, other in combinations(rings, 2):
            assert (
                dist((ring.x0 + ring.x1, ring.y0 + ring.y1), (other.x0 + other.x1, other.y0 + other.y1))
                > 2 * ring.width
            )
        assert all(ring.y1 <= axes.get_window_extent(renderer).y1 for ring in rings)
        lines = words.get_text().splitlines()
        letter_of = zip("000111222333", "abcdefghijkl", strict=True)
        assert [line[:5] for line in lines] == [f"({letter}) {n}" for n, letter in letter_of]
        block = words.get_window_extent(renderer)
        assert block.y1 < axes.get_window_extent(renderer).y0
        assert block.x1 <= figure.bbox.x1
    tops = [axes.get_tightbbox(renderer) for axes in figure.axes]
    assert all(not upper.overlaps(lower) for upper, lower in pairwise(tops))
    assert draw(crowded(panels)) == draw(crowded(panels))


def test_a_letter_takes_the_nearest_free_place_else_the_widest():
    assert free_place((0, 0), [], 1) == pytest.approx((0, 17))
    assert free_place((0, 0), [(0, 17)], 1) == pytest.approx((0, -17))
    # Everything around is taken, only far to the right is some room left.
    around = [(x, y) for x in range(-80, 33, 8) for y in range(-80, 81, 8)]
    x, _ = free_place((0, 0), around, 1)
    assert x > 40
