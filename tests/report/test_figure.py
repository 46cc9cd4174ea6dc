"""Figures: every case can be drawn, no text meets another, same input gives the same bytes."""

from __future__ import annotations

from itertools import combinations

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.lines import Line2D
from matplotlib.text import Text
from report.handmade import CASES, HUM, examination
from report.handmade_contents import ALL_CASES, CONTENTS_CASES

from straypath.errors import InputError
from straypath.report import look
from straypath.report.figure import MOST_CHANNELS, draw, save
from straypath.report.sheet import SETTINGS


def texts(figure):
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    shown = [t for t in figure.findobj(Text) if t.get_visible() and t.get_text().strip()]
    with mpl.rc_context(SETTINGS):
        return [(t.get_text(), t.get_window_extent(renderer)) for t in shown]


@pytest.mark.parametrize("case", ALL_CASES)
def test_no_text_meets_another_or_leaves_the_sheet(case):
    figure = draw([ALL_CASES[case]()])
    boxes = texts(figure)
    assert len(boxes) > 20
    sheet = figure.bbox
    for text, box in boxes:
        assert box.x0 >= sheet.x0 + look.EDGE + look.RIBBON + 8, text
        assert box.x1 <= sheet.x1 - 4, text
        assert box.y0 >= sheet.y0, text
        assert box.y1 <= sheet.y1, text
    for (one, a), (other, b) in combinations(boxes, 2):
        # A few pixels may be shared: boxes include spaces and the room around the letters.
        apart = a.x1 <= b.x0 + 3 or b.x1 <= a.x0 + 3 or a.y1 <= b.y0 + 2 or b.y1 <= a.y0 + 2
        assert apart, (one, other)


def test_says_the_conclusion_and_marks_invented_data():
    said = " ".join(text for text, _ in texts(draw([CASES["hum"]()])))
    assert "A mains comb at" in said
    assert "Invented data" in said
    assert "20.005\u202fms" in said  # one cycle of 49.987 Hz, measured out


def test_says_what_is_assumed_and_not_known_once():
    said = [text for text, _ in texts(draw([CASES["wanders"]()]))]
    assert said.count("Was the averaging triggered on the mains?") == 1
    assert said.count("The floor is smooth over a few cycles of the mains.") == 1
    many = [text for text, _ in texts(draw([CASES["many channels"]()]))]
    assert many.count("Assumed") == 1


def test_files_of_different_length_are_drawn_below_one_another():
    figure = draw([CASES["less than a cycle"](), CASES["short"]()])
    assert [text for text, _ in texts(figure)].count("Record") == 2


def drawn(figure, marker):
    """All places of a marker in the charts, and the number of such heads."""
    lines = [line for chart in figure.axes for line in chart.lines if line.get_marker() == marker]
    return [float(line.get_xdata()[0]) for line in lines]


def test_families_have_heads_of_their_own_shape():
    figure = draw([CONTENTS_CASES["everything"]()])
    assert {1000.0, 2000.0, 48.6, 72.9} <= set(drawn(figure, "s"))
    assert set(drawn(figure, "D")) == {217.0, 299.924}
    orders = {round(hz / 49.987) for hz in drawn(figure, "o") if hz > 40}
    assert not {217.0, 1000.0} & set(drawn(figure, "o"))
    assert {1, 3, 5, 7} <= orders
    said = [text for text, _ in texts(figure)]
    for word in (
        "of a family",
        "a line on its own",
        "a narrow band",
        "corner 12\u202fHz",
        "bursts",
    ):
        assert word in said
    assert "corner 12\u202fHz" in said


def test_no_key_where_there_are_no_other_lines():
    said = [text for text, _ in texts(draw([CASES["hum"]()]))]
    assert "a line on its own" not in said
    assert "bursts" not in said


def test_the_band_reaches_as_far_as_the_lines_lie():
    made = CONTENTS_CASES["lines far up"]()
    figure = draw([made])
    (band,) = [chart for chart in figure.axes if chart.get_xscale() == "log"]
    assert band.get_xlim()[1] == made.capture.rate_hz / 2
    assert {67_000.3, 12_000.0, 60_000.0} <= set(drawn(figure, "s") + drawn(figure, "D"))
    close = next(chart for chart in figure.axes if 900 < chart.get_xlim()[1] < 2000)
    assert close.get_xscale() == "linear"  # orders of the mains stay evenly spaced


def test_the_white_level_is_a_line_across_the_band():
    figure = draw([CONTENTS_CASES["everything"]()])
    (band,) = [chart for chart in figure.axes if chart.get_xscale() == "log"]
    across = [line for line in band.lines if list(line.get_xdata()) == [0, 1]]
    assert [line.get_ydata()[0] for line in across] == [22e-6]


def test_each_burst_has_a_stroke_at_its_time():
    figure = draw([CONTENTS_CASES["everything"]()])
    strokes = [a.get_xydata() for a in figure.artists if isinstance(a, Line2D)]
    upright = [p[0, 0] for p in strokes if len(p) == 2 and list(np.ptp(p, axis=0)) == [0.0, 10.0]]
    expected = look.CHART_X + look.CHART_WIDTH * (np.arange(9) + 0.5) / 9
    assert sorted(upright) == pytest.approx(expected, abs=look.CHART_WIDTH / 600)


def test_a_figure_says_what_the_page_says_of_six_families():
    said = " ".join(text for text, _ in texts(draw([CONTENTS_CASES["many families"]()])))
    assert "And 54 weaker ones" in said.replace("\u202f", " ")
    assert "White at" in said
    assert "1 200 bursts depart" in said.replace("\u202f", " ")


def test_real_data_bear_no_mark():
    figure = draw([examination(HUM, notes=())])
    assert "Invented data" not in [text for text, _ in texts(figure)]


def test_many_channels_are_named_when_not_drawn():
    figure = draw([CASES["many channels"]()])
    said = [text for text, _ in texts(figure)]
    assert said.count("Spectrum") == MOST_CHANNELS
    left_out = next(text for text in said if text.startswith("Not drawn"))
    assert left_out == "Not drawn, less mains in them: in 9, in 10."


def test_dark_paper():
    figure = draw([CASES["short"]()], dark=True)
    assert to_hex(figure.get_facecolor()) == look.DARK.paper.lower()


@pytest.mark.parametrize("kind", [".png", ".svg", ".pdf"])
def test_same_input_same_bytes(kind, tmp_path):
    one, two = tmp_path / f"one{kind}", tmp_path / f"two{kind}"
    save(draw([CASES["short"]()]), one)
    save(draw([CASES["short"]()]), two)
    assert one.read_bytes() == two.read_bytes()
    assert len(one.read_bytes()) > 10_000


@pytest.mark.parametrize("name", ["out.txt", "out", "missing/out.png"])
def test_refuses_what_cannot_be_written(name, tmp_path):
    figure = draw([CASES["short"]()])
    with pytest.raises(InputError) as caught:
        save(figure, tmp_path / name)
    assert "\n" not in str(caught.value)


def test_text_is_only_in_the_colours_for_text():
    palette = look.LIGHT
    figure = draw([CASES["wanders"]()])
    colours = {t.get_color() for t in figure.findobj(Text) if t.get_text().strip()}
    assert colours <= {palette.ink, palette.quiet, palette.caution, palette.danger}


# independent: WCAG 2.2 relative luminance and contrast, computed here; ours is 5 : 1
@pytest.mark.parametrize("palette", [look.LIGHT, look.DARK])
@pytest.mark.parametrize("role", ["ink", "quiet", "caution", "danger"])
def test_text_can_be_read_on_paper(palette, role):
    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted([luminance(getattr(palette, role)), luminance(palette.paper)])[::-1]
    assert (light + 0.05) / (dark + 0.05) >= 5.0
