"""Numbers with marks in them: decimal commas in quotes, marks between thousands; side facts."""

from __future__ import annotations

import numpy as np
import pytest

from straypath.errors import DamagedFile, InputError

VALUES = [1.5, -2.5, 12345.25, -4.0]
MORE = "".join(f"{i / 1000};{i % 9}\n" for i in range(4, 900))


@pytest.mark.parametrize(
    "text",
    [
        "time;u\n0.000;115'879\n0.001;-2'500\n0.002;70'711\n",
        "time;u\n0.000;115\n0.001;-2'500\n0.002;70'711\n0.003;12\n",  # some below a thousand
        "time;u\n0,000;115.879,5\n0,001;-2.500,1\n0,002;70.711,0\n",
        "time;u\n0.000;115 879\n0.001;-2 500\n0.002;70 711\n",
        'time,u\n0.000,"115,879"\n0.001,"-2,500"\n0.002,"70,711"\n',
        'time,u\n0.000,"15,879"\n0.001,"-500"\n0.002,"711"\n',
        'time,u\n0.000,"1,115,879.5"\n0.001,"-2,500.5"\n0.002,"70,711.1"\n',
        'n,u\n"1","1,115"\n"2","2,500"\n"3","1,711"\n',  # may be either: never guessed
        "115'879\n2'500\n70'711\n",
    ],
)
def test_a_mark_between_thousands_is_refused_by_name(read_text, text):
    with pytest.raises(InputError, match=r"thousands mark, such as .*\d") as caught:
        read_text(text, rate_hz=1000)
    assert "column" in str(caught.value)
    assert "Export" in caught.value.advice


@pytest.mark.parametrize("late", ["0.9;1'234\n", '0.9;"1\'234"\n'])
def test_a_mark_far_behind_the_head_is_found(read_text, late):
    with pytest.raises(InputError, match="column 2 holds numbers with a thousands mark"):
        read_text("time;u\n" + MORE + late + MORE)


def test_a_late_mark_in_quotes_is_found(read_text):
    rows = "".join(f'{i / 1000},"{i % 9}"\n' for i in range(900))
    with pytest.raises(InputError, match="thousands mark, such as 1,234"):
        read_text("time,u\n" + rows + '0.9,"1,234"\n0.901,"5"\n')


def test_a_count_in_the_header_may_carry_a_mark(read_text):
    capture = read_text("Points;8'000\nSample rate;1 kHz\n0;1.5\n1;-2.5\n2;12345.25\n3;-4\n")
    assert capture.rate_hz == 1000


@pytest.mark.parametrize(
    "text",
    [
        '"time","u"\n"0,000","1,5"\n"0,001","-25e-1"\n"0,002","12345,25"\n"0,003","-4"\n',
        'time,u\n"0,000","1,5"\n"0,001","-2,5"\n"0,002","1,234525e4"\n"0,003",-4\n',
        '"time" , "u"\n"0,000" , "1,5"\n"0,001" , "-2,5"\n"0,002","12345,25"\n"0,003","-4,0"\n',
    ],
)
def test_quoted_decimal_commas_between_commas(read_text, text):
    capture = read_text(text)
    assert capture.rate_hz == pytest.approx(1000)
    np.testing.assert_allclose(capture.channels[0].values(), VALUES)


def test_a_column_of_words_is_noted(read_text):
    capture = read_text("t (s),state,u (V)\n0,ok,1\n1,ok,2\n2,ok,3\n")
    assert 'column "state" holds words and is left out' in capture.notes


def test_time_beside_nothing_but_words_names_the_column(read_text):
    with pytest.raises(DamagedFile, match='column "u" cannot be read: "5 apples" is no number'):
        read_text("time;u\n0;5 apples\n1;6 apples\n2;7 apples\n", rate_hz=1000)


@pytest.mark.parametrize("titles", ["", "name,value,,time (s),u (V)\n"])
def test_facts_beside_the_first_rows_cost_no_sample(read_text, titles):
    left = ["Sample interval,0.001 s,", "Coupling,DC,", "Averages,16,"]
    rows = [f"{i / 1000:.3f},{i % 7}" for i in range(50)]
    text = "\n".join(f"{a},{b}" for a, b in zip(left + [",,"] * 47, rows, strict=True))
    capture = read_text(titles + text + "\n")
    np.testing.assert_array_equal(capture.channels[0].values(), np.arange(50) % 7)
    assert capture.rate_hz == pytest.approx(1000)
    assert (capture.acquisition.coupling, capture.acquisition.averages) == ("dc", 16)
