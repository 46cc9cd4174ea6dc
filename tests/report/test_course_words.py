"""How levels over a long record are said and drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from report.handmade import HUM, examination
from report.handmade_contents import CONTENTS_CASES, course, holding

from straypath.contents.records import Course
from straypath.report.course_words import course as said_of
from straypath.report.course_words import moves
from straypath.report.figure import draw
from straypath.wording import plain


def tidy(found, unit="V"):
    return plain(said_of(found, unit)).replace("\u202f", " ")


def test_what_moves_has_ends_and_what_does_not_is_steady():
    assert tidy(course()) == (
        "Order 1 moved between 40.5 mV and 79.5 mV rms. Order 3 is steady. "
        "The floor moved between 22.3 µV/√Hz and 43.7 µV/√Hz."
    )


def test_all_steady():
    still = replace(course(), orders=(3, 5), rms=(course().rms[1],) * 2, floor=(2e-5, 2.01e-5))
    assert tidy(still) == "Orders 3 and 5 are steady. The floor is steady."


def test_a_floor_alone():
    assert tidy(Course((1.0, 2.0), floor=(1.0, 1.01), floor_u=0.05), "") == "The floor is steady."
    assert tidy(Course((1.0, 2.0))) == ""


# independent: chi-square of normal noise; 4 standard deviations are passed by 1 in 1000 or so
def test_noise_alone_does_not_move():
    draws = np.random.default_rng(3).normal(1.0, 0.01, (2000, 30))
    assert np.mean([moves(list(row), 0.01) for row in draws]) < 5e-3
    assert moves(list(draws[0] + np.linspace(0, 0.05, 30)), 0.01)


def test_less_than_two_per_cent_is_not_worth_a_word():
    assert not moves([1.0, 1.015] * 9, 1e-6)
    assert moves([1.0, 1.025] * 9, 1e-6)


def test_without_uncertainty_any_difference_counts():
    assert moves([1.0, 1.1], 0.0)
    assert not moves([1.0, 1.0], 0.0)
    assert not moves([1.0], 0.1)


def test_the_figure_draws_a_line_for_each_order_and_the_floor():
    made = CONTENTS_CASES["everything"]()
    kept = [made.channels[0].contents.course]
    assert kept[0] is not None
    drawn = [list(line.get_ydata()) for chart in draw([made]).axes for line in chart.lines]
    for levels in (*kept[0].rms, kept[0].floor):
        assert list(levels) in drawn


def test_each_name_stands_by_its_own_line():
    close = Course(
        course().times_s, (), (1, 3, 5), tuple((level,) * 40 for level in (1.3e-3, 92e-6, 131e-6)),
        (1e-6,) * 3, (1e-6,) * 40, 0.05,
    )  # fmt: skip
    made = holding(examination(HUM), course=close)
    figure = draw([made])
    figure.canvas.draw()
    chart = next(c for c in figure.axes if any(t.get_text() == "order 3" for t in c.texts))
    levels = {"order 1": 1.3e-3, "order 3": 92e-6, "order 5": 131e-6, "floor": 1e-6}
    for text in chart.texts:
        box = text.get_window_extent(figure.canvas.get_renderer())
        middle = (box.y0 + box.y1) / 2
        away = {n: abs(chart.transData.transform((0, y))[1] - middle) for n, y in levels.items()}
        assert min(away, key=away.__getitem__) == text.get_text()
