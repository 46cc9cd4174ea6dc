"""Text tables in the ways people write them. All headers are invented, in plain trade words."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest

from straypath.capture import read

# What every text below holds: 1 kHz, 1.5 -2.5 3.25 -4 mV.
VALUES_V = [1.5e-3, -2.5e-3, 3.25e-3, -4e-3]

TEXTS = {
    "comma": "Time (s),Input (mV)\n0,1.5\n0.001,-2.5\n0.002,3.25\n0.003,-4\n",
    "semicolon": "Time (s);Input (mV)\n0;1.5\n0.001;-2.5\n0.002;3.25\n0.003;-4\n",
    "tab": "Time (s)\tInput (mV)\n0\t1.5\n0.001\t-2.5\n0.002\t3.25\n0.003\t-4\n",
    "blanks": "time/s  input/mV\n0      1.5\n0.001 -2.5\n0.002  3.25\n0.003 -4\n",
    "decimal comma": "Zeit (s);Eingang (mV)\n0;1,5\n0,001;-2,5\n0,002;3,25\n0,003;-4\n",
    "decimal comma, tab": "Zeit [ms]\tEingang [mV]\n0,0\t1,5\n1,0\t-2,5\n2,0\t3,25\n3,0\t-4,0\n",
    "line ends of two": "Time (s),Input (mV)\r\n0,1.5\r\n0.001,-2.5\r\n0.002,3.25\r\n0.003,-4\r\n",
    "old line ends": "Time (s),Input (mV)\r0,1.5\r0.001,-2.5\r0.002,3.25\r0.003,-4\r",
    "no end of last line": "Time (s),Input (mV)\n0,1.5\n0.001,-2.5\n0.002,3.25\n0.003,-4",
    "unit row": "Time,Input\ns,mV\n0,1.5\n0.001,-2.5\n0.002,3.25\n0.003,-4\n",
    "unit row in brackets": "Time,Input\n[ms],[mV]\n0,1.5\n1,-2.5\n2,3.25\n3,-4\n",
    "blank line under the titles": "Time;Input\n(ms);(mV)\n\n0,0;1,5\n1,0;-2,5\n2,0;3,25\n3,0;-4\n",
    "microseconds": "Time (µs),Input (mV)\n0,1.5\n1000,-2.5\n2000,3.25\n3000,-4\n",
    "unit after a slash": "t/ms;U/mV\n0;1.5\n1;-2.5\n2;3.25\n3;-4\n",
    "unit in the name": "time_ms,input_mv\n0,1.5\n1,-2.5\n2,3.25\n3,-4\n",
    "microvolts": "Time (s),Input (µV)\n0,1500\n0.001,-2500\n0.002,3250\n0.003,-4000\n",
    "exponents": "Time (s),Input (V)\n0,1.5E-03\n1.0E-03,-2.5E-03\n2.0E-03,3.25e-3\n3e-3,-4e-3\n",
    "quotes": '"Time (s)","Input (mV)"\n"0","1.5"\n"0.001","-2.5"\n"0.002","3.25"\n"0.003","-4"\n',
    "quotes and commas": (
        '"Zeit (s)";"U (mV)"\n"0";"1,5"\n"0,001";"-2,5"\n"0,002";"3,25"\n"0,003";"-4"\n'
    ),
    "blanks after commas": "Time (s), Input (mV)\n0, 1.5\n0.001, -2.5\n0.002, 3.25\n0.003, -4\n",
    "padded": "Time (s) , Input (mV)\n0     , 1.5  \n0.001 , -2.5 \n0.002 , 3.25 \n0.003 , -4   \n",
    "trailing separator": "Time (s),Input (mV),\n0,1.5,\n0.001,-2.5,\n0.002,3.25,\n0.003,-4,\n",
    "rate in the header": "Sample rate: 1 kHz\nUnit: mV\n\nInput\n1.5\n-2.5\n3.25\n-4\n",
    "rate in two cells": "Sample rate,1000,Hz\nInput (mV)\n1.5\n-2.5\n3.25\n-4\n",
    "rate in a comment": "# sample rate = 1000 Hz\n# unit = mV\n1.5\n-2.5\n3.25\n-4\n",
    "interval": "Sample interval;0,001 s\nKopplung;DC\nEingang (mV)\n1,5\n-2,5\n3,25\n-4,0\n",
    "interval, unit in key": (
        "Sample interval (ms),1\nInput (mV),Spare (mV)\n1.5,0\n-2.5,0\n3.25,0\n-4,0\n"
    ),
    "counted": "Sample rate (Hz),1000\nNo.,Input (mV)\n1,1.5\n2,-2.5\n3,3.25\n4,-4\n",
    "clock": (
        "Clock,Input (mV)\n23:59:59.999,1.5\n00:00:00.000,-2.5\n00:00:00.001,3.25\n"
        "00:00:00.002,-4\n"
    ),
    "dates": (
        "When,Input (mV)\n2026-03-01T10:00:00.000,1.5\n2026-03-01T10:00:00.001,-2.5\n"
        "2026-03-01T10:00:00.002,3.25\n2026-03-01T10:00:00.003,-4\n"
    ),
    "dates with a zone": (
        "When,Input (mV)\n2026-03-01 10:00:00.000Z,1.5\n2026-03-01 10:00:00.001Z,-2.5\n"
        "2026-03-01 10:00:00.002Z,3.25\n2026-03-01 10:00:00.003Z,-4\n"
    ),
    "date and clock": (
        "Date;Clock;Input (mV)\n01.03.2026;10:00:00,000;1,5\n01.03.2026;10:00:00,001;-2,5\n"
        "01.03.2026;10:00:00,002;3,25\n01.03.2026;10:00:00,003;-4\n"
    ),
    "word beside the numbers": (
        "Time (s),State,Input (mV)\n0,ok,1.5\n0.001,ok,-2.5\n0.002,ok,3.25\n0.003,ok,-4\n"
    ),
    "footer": "Time (s),Input (mV)\n0,1.5\n0.001,-2.5\n0.002,3.25\n0.003,-4\n\nend of record\n",
    "footer of cells": (
        "Time (s),Input (mV)\n0,1.5\n0.001,-2.5\n0.002,3.25\n0.003,-4\nend,of,record\n"
    ),
    "remark between rows": (
        "Time (s),Input (mV)\n0,1.5\n0.001,-2.5\n# lamp on, here, now\n0.002,3.25\n0.003,-4\n"
    ),
    "end mark of old systems": "Time (s),Input (mV)\n0,1.5\n0.001,-2.5\n0.002,3.25\n0.003,-4\n\x1a",
}


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS.keys())
def test_the_same_record_is_read_from_every_way_of_writing_it(read_text, text):
    capture = read_text(text)
    assert capture.rate_hz == pytest.approx(1000.0, rel=1e-9)
    assert capture.channels[0].unit == "V"
    np.testing.assert_allclose(capture.channels[0].values(), VALUES_V, rtol=1e-12)
    assert capture.format == "text"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(read_text, encoding):
    capture = read_text(TEXTS["microvolts"], encoding)
    assert capture.channels[0].unit == "V"
    np.testing.assert_allclose(capture.channels[0].values(), VALUES_V, rtol=1e-12)


def test_header_facts_reach_the_acquisition(read_text):
    text = (
        "Instrument: bench recorder\nRecorded: 2026-03-01 10:00:00\nCoupling: AC\n"
        "Probe ratio: 10:1\nInput ratio: x1\nBandwidth limit: 20 MHz\nAcquisition mode: average\n"
        "Averages: 16\nTrigger source: Line\nResolution: 12 bit\nAperture: 20 ms\n"
        "Sample rate: 1 kHz\nTouching: nobody\n\nInput (V)\n0.1\n0.2\n0.3\n"
    )
    capture = read_text(text)
    a = capture.acquisition
    assert capture.start == datetime(2026, 3, 1, 10, 0, 0)
    assert (a.instrument, a.coupling, a.probe_ratio, a.input_ratio) == (
        "bench recorder", "ac", 10.0, 1.0,
    )  # fmt: skip
    assert (a.bandwidth_limit_hz, a.mode, a.averages) == (20e6, "average", 16)
    assert (a.trigger, a.bits, a.aperture_s, a.touching) == ("line", 12, 0.02, "nobody")


def test_values_that_cannot_be_understood_are_not_guessed(read_text):
    text = "Coupling: GND\nProbe ratio: auto\nBits: many\nSample rate: 1,000 Hz\nU (V)\n1\n2\n3\n"
    capture = read_text(text, rate_hz=500)
    assert capture.acquisition.coupling == ""
    assert capture.acquisition.probe_ratio is None
    assert capture.acquisition.bits is None
    assert capture.rate_hz == 500
    assert not any("the file says" in note for note in capture.notes)


def test_several_channels_keep_their_names_and_units(read_text):
    capture = read_text("t (s),U1 (V),I1 (mA),T (°C),x\n0,1,2,3,4\n1,5,6,7,8\n2,9,10,11,12\n")
    assert [(c.name, c.unit, c.scale) for c in capture.channels] == [
        ("U1", "V", 1.0), ("I1", "A", 1e-3), ("T", "°C", 1.0), ("x", "", 1.0),
    ]  # fmt: skip


def test_untitled_and_doubled_names_are_made_distinct(read_text):
    capture = read_text("t,a,a,\n0,1,2,3\n1,2,3,4\n2,3,4,5\n")
    assert [c.name for c in capture.channels] == ["a", "a (2)", "channel 3"]


def test_an_untitled_even_ramp_is_time_and_says_so(read_text):
    capture = read_text("".join(f"{i / 500:.3f},{i % 7}\n" for i in range(20)))
    assert capture.rate_hz == pytest.approx(500)
    assert any("taken as time" in note for note in capture.notes)


def test_the_rate_given_counts_before_the_file(read_text):
    capture = read_text(TEXTS["comma"], rate_hz=2000.0)
    assert capture.rate_hz == 2000.0
    assert any("the given" in note for note in capture.notes)


def test_the_unit_given_counts_before_the_file(read_text):
    capture = read_text(TEXTS["comma"], unit="µV")
    np.testing.assert_allclose(capture.channels[0].values(), np.array(VALUES_V) * 1e-3)


def test_a_unit_that_is_not_stated_is_noted(read_text):
    capture = read_text("t (s),x\n0,1\n1,2\n2,3\n")
    assert capture.channels[0].unit == ""
    assert any("unit is not stated" in note for note in capture.notes)


def test_empty_cells_and_words_become_nan_and_are_noted(read_text):
    capture = read_text("t (s),U (V)\n0,1\n1,\n2,OVER\n3,nan\n4,5\n")
    np.testing.assert_array_equal(capture.channels[0].values(), [1, np.nan, np.nan, np.nan, 5])
    assert any("2 rows lack" in note and "line 3" in note for note in capture.notes)


def test_a_last_row_that_is_cut_is_left_out(read_text):
    capture = read_text("t (s),U (V)\n0,1\n1,2\n2,3\n3")
    assert capture.samples == 3
    assert any("cut short" in note for note in capture.notes)


def test_a_column_of_nothing_is_left_out(read_text):
    capture = read_text("t (s),U (V),spare\n0,1,nan\n1,2,nan\n2,3,nan\n")
    assert [c.name for c in capture.channels] == ["U"]


def test_a_start_is_taken_from_the_first_stamp(read_text):
    capture = read_text(TEXTS["dates with a zone"])
    assert capture.start == datetime(2026, 3, 1, 10, tzinfo=UTC)


def test_seconds_since_1970_give_the_start(read_text):
    text = "timestamp (s),U (V)\n" + "".join(f"{1772359200 + i / 8},{i}\n" for i in range(9))
    capture = read_text(text)
    assert capture.start == datetime(2026, 3, 1, 10, tzinfo=UTC)
    assert capture.rate_hz == pytest.approx(8)


def test_samples_are_not_writeable(read_text):
    with pytest.raises(ValueError, match="read-only"):
        read_text(TEXTS["comma"]).channels[0].raw[0] = 1


def test_a_long_header_is_no_obstacle(read_text):
    header = "".join(f"remark {i}: nothing of use here, really\n" for i in range(5000))
    capture = read_text(header + TEXTS["comma"])
    np.testing.assert_allclose(capture.channels[0].values(), VALUES_V)


def test_polars_writes_what_we_read(tmp_path, wave):
    path = tmp_path / "out.csv"
    pl.DataFrame({"time (s)": np.arange(2000) / 1000, "u (mV)": wave}).write_csv(path)
    capture = read(path)
    assert capture.rate_hz == 1000.0
    np.testing.assert_array_equal(capture.channels[0].raw[:], wave)


def test_a_long_table_is_read_in_pieces_that_join(tmp_path):
    path = tmp_path / "long.csv"
    u = np.arange(400_000) * 7 % 1001
    pl.DataFrame({"time (s)": np.arange(400_000) / 1000, "u (mV)": u}).write_csv(path)
    channel = read(path).channels[0]
    assert not isinstance(channel.raw, np.ndarray)
    np.testing.assert_array_equal(channel.raw[:], u)
    np.testing.assert_array_equal(np.concatenate([b for _, b in channel.blocks(70_001)]), u)
    for start in range(0, 400_000, 9_973):
        np.testing.assert_array_equal(
            channel.raw[start : start + 50_000 : 3], u[start : start + 50_000 : 3]
        )
    with pytest.raises(ValueError, match="read-only"):
        channel.raw[0:10][0] = 1


def test_numpy_writes_what_we_read(tmp_path, wave):
    path = tmp_path / "out.txt"
    np.savetxt(path, np.c_[np.arange(2000) / 1000, wave], header="time (s) u (mV)")
    capture = read(path)
    assert capture.rate_hz == 1000.0
    np.testing.assert_array_equal(capture.channels[0].raw[:], wave)


RAMP = [(i / 8, i % 3) for i in range(12)]


@pytest.mark.parametrize(
    ("title", "count", "names"),
    [
        ("index,time (s),u", True, ["u"]),
        (",time (s),u", True, ["u"]),
        ("n,time (s),u", False, ["n", "u"]),  # no count of samples: a channel like any other
    ],
)
def test_counters_are_no_channels(read_text, title, count, names):
    rows = (f"{i if count else 7 * i % 5},{t},{u}" for i, (t, u) in enumerate(RAMP))
    capture = read_text("\n".join([title, *rows]))
    assert [c.name for c in capture.channels] == names
    assert capture.rate_hz == 8


def test_a_time_column_that_only_counts_gives_way_to_the_rate_in_the_header(read_text):
    rows = "".join(f"{i},{u}\n" for i, (_, u) in enumerate(RAMP))
    assert read_text("Sample rate: 8 Hz\ntime,u\n" + rows).rate_hz == 8
    assert read_text("Sample rate: 8 Hz\ntime (s),u\n" + rows).rate_hz == 1


def test_a_broken_time_column_gives_way_to_the_rate_of_the_user(read_text):
    for text in ("t (s),U (V)\n0,1\n,2\n2,3\n", "t (s),U (V)\n3,1\n2,2\n1,3\n"):
        capture = read_text(text, rate_hz=8)
        assert (capture.rate_hz, capture.stamps, len(capture.channels)) == (8, None, 1)
        assert any("time column is not used" in note for note in capture.notes)


def test_time_columns_that_differ_are_noted(read_text):
    text = "t1 (s),a (V),t2 (s),b (V)\n0,1,0.5,2\n1,2,1.5,3\n2,3,2.5,4\n"
    text = text.replace("t1", "t").replace("t2", "time")
    capture = read_text(text)
    assert [c.name for c in capture.channels] == ["a", "b"]
    assert any("do not begin alike" in note for note in capture.notes)


@pytest.mark.parametrize(
    ("stamps", "rate_hz", "start"),
    [
        (["03/31/2026 10:00:00", "03/31/2026 10:00:02"], 0.5, None),
        (["31/03/2026 10:00:00", "31/03/2026 10:00:02"], 0.5, None),
        (["03/04/2026 23:59:59", "03/05/2026 00:00:01"], 0.5, None),
        (["04/03/2026 23:59:59", "05/03/2026 00:00:01"], 0.5, None),
        (["11:59:59 AM", "12:00:01 PM"], 0.5, None),
        (["2026/03/01 10:00", "2026/03/01 10:01"], 1 / 60, datetime(2026, 3, 1, 10)),
        (["2026-03-01", "2026-03-02"], 1 / 86400, datetime(2026, 3, 1)),
    ],
)
def test_ways_to_write_a_date(read_text, stamps, rate_hz, start):
    capture = read_text("when,U (V)\n" + "".join(f"{s},1\n" for s in stamps))
    assert capture.rate_hz == pytest.approx(rate_hz)
    assert capture.start == start


def test_an_input_over_its_range_at_the_start_is_no_obstacle(read_text):
    capture = read_text("t (s),U (V)\n0,OL\n1,OL\n2,2\n3,4\n")
    np.testing.assert_array_equal(capture.channels[0].values(), [np.nan, np.nan, 2, 4])
