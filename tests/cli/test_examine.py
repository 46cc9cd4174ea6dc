"""The examine command: pages, JSON, figures, several files, and every kind of bad input."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from golden import check_golden
from report.handmade import CASES, samples
from report.handmade_contents import ALL_CASES
from rich.console import Console

from straypath import inquiry
from straypath.cli import main, run, terminal
from straypath.cli.page import page
from straypath.cli.progress import Bar
from straypath.demo import example

GOLDEN = Path(__file__).parent / "golden"
PNG = b"\x89PNG\r\n\x1a\n"


# regression: the page of each hand-made case
@pytest.mark.parametrize("case", ALL_CASES)
def test_pages(case, capsys):
    terminal.show(page([ALL_CASES[case]()]))
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text
    assert "\u202f" not in text
    check_golden(text, GOLDEN / f"{case.replace(' ', '-')}.txt")


def test_colour_and_narrow_spaces_on_a_terminal(monkeypatch, capsys):
    monkeypatch.setattr(
        terminal, "console", lambda: Console(force_terminal=True, width=80, highlight=False)
    )
    terminal.show(page([CASES["wanders"]()]))
    text = capsys.readouterr().out
    assert "\x1b[" in text
    assert "\u202f" in text
    assert "\ue000" not in text


def test_examine_says_what_is_in_a_file(hum, capsys):
    assert main(["examine", str(hum)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "two.csv" in out
    head = out.partition("Record")[0]
    assert re.search(r"^  left +Mains comb at 50\.0\d+ Hz, 41\.\d+ mV rms, ", head, re.MULTILINE)
    assert re.search(r"^  right +No mains comb, under ", head, re.MULTILINE)
    assert "channel left\nA mains comb at 50.0" in out
    assert "channel right\nNo mains comb is seen: all orders together are under" in out
    assert "Invented data" in out


def test_run_returns_the_records(hum):
    outcome = run(["examine", str(hum), "--channel", "left", "--mains", "50"])
    assert outcome.code == 0
    (examination,) = outcome.examinations
    assert [found.channel.name for found in examination.channels] == ["left"]


def test_json_is_one_document_and_says_the_same_twice(hum, capsys):
    texts = []
    for _ in range(2):
        assert main(["examine", str(hum), "--json", "--channel", "2", "--channel", "1"]) == 0
        texts.append(capsys.readouterr().out)
    assert texts[0] == texts[1]
    document = json.loads(texts[0])
    assert [channel["name"] for channel in document["channels"]] == ["right", "left"]
    assert document["inputs"][0]["name"] == "two.csv"


def test_a_reference_stands_on_page_and_in_the_document(hum, capsys):
    assert main(["examine", str(hum), "--reference", "right", "--channel", "left"]) == 0
    page_text = capsys.readouterr().out
    assert "Against the reference" in page_text
    assert "Mains can kill" in page_text
    assert main(["examine", str(hum), "--reference", "2", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert "sealed safety-isolating adapter" in " ".join(document["cautions"])
    assert document["channels"][0]["against"]["reference"] == "right"
    assert document["channels"][1]["against"] is None


def test_figure_is_written_and_the_source_is_not(hum, tmp_path, capsys):
    before = hum.read_bytes(), hum.stat().st_mtime_ns
    assert main(["examine", str(hum), "--figure", str(tmp_path / "out.png"), "--dark"]) == 0
    assert (tmp_path / "out.png").read_bytes().startswith(PNG)
    assert (hum.read_bytes(), hum.stat().st_mtime_ns) == before
    capsys.readouterr()


def test_rate_unit_and_type_of_a_raw_file(tmp_path, capsys):
    path = tmp_path / "raw.bin"
    (samples({1: (4000.0, 0.3)}, 60.0, 2000.0, 2.0, 5.0)).astype("<i2").tofile(path)
    arguments = ["examine", str(path), "--dtype", "<i2", "--rate", "2 kHz", "--unit", "mV"]
    assert main([*arguments, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["capture"]["rate_hz"] == 2000.0
    assert document["channels"][0]["unit"] == "V"
    assert document["channels"][0]["mains"]["nominal_hz"] == 60.0
    assert document["channels"][0]["mains"]["rms_v"]["value"] == pytest.approx(4.0, rel=0.01)


def test_several_files_one_of_them_bad(hum, tmp_path, capsys):
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"")
    assert main(["examine", str(hum), str(bad), str(hum), "--json"]) == 2
    out, err = capsys.readouterr()
    assert len(json.loads(out)) == 2
    assert err.startswith("straypath: ")
    assert len(err.splitlines()) == 1


def test_pages_on_a_narrow_screen(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "40")
    for made in ALL_CASES.values():
        terminal.show(page([made()]))
        text = capsys.readouterr().out
        assert max(len(line) for line in text.splitlines()) <= 40
        assert "…" not in text.partition("channel")[2].partition("Assumed")[0]


@pytest.mark.parametrize("option", [["--quick"], ["--deep"], []])
def test_depth_reaches_the_inquiry(option, hum, capsys, monkeypatch):
    asked = []
    real = inquiry.examine

    def note(*arguments, **more):
        asked.append(more["depth"])
        return real(*arguments, **more)

    monkeypatch.setattr("straypath.inquiry.examine", note)
    assert main(["examine", str(hum), "--channel", "1", *option]) == 0
    assert asked == [option[0].strip("-") if option else "usual"]
    capsys.readouterr()


BAD = {
    "no file": lambda d: ["examine"],
    "missing": lambda d: ["examine", str(d / "missing.csv")],
    "folder": lambda d: ["examine", str(d)],
    "empty": lambda d: ["examine", written(d / "empty.csv", b"")],
    "junk": lambda d: ["examine", written(d / "junk.bin", bytes(range(256)) * 9)],
    "words": lambda d: ["examine", written(d / "words.txt", b"one two\nthree four\n")],
    "no rate": lambda d: ["examine", written(d / "n.csv", b"v\n" + b"1\n2\n3\n" * 50)],
    "one sample": lambda d: ["examine", written(d / "1.csv", b"v\n1\n"), "--rate", "1000"],
    "all nan": lambda d: ["examine", written(d / "x.csv", b"v\n" + b"nan\n" * 9), "--rate", "9"],
    "zero rate": lambda d: ["examine", good(d), "--rate", "0"],
    "negative rate": lambda d: ["examine", good(d), "--rate", "-5 Hz"],
    "rate of nothing": lambda d: ["examine", good(d), "--rate", ""],
    "unit of nothing": lambda d: ["examine", good(d), "--rate", "1000", "--unit", ""],
    "rate beyond all": lambda d: ["examine", good(d), "--rate", "1e300"],
    "rate in volts": lambda d: ["examine", good(d), "--rate", "5 V"],
    "rate without unit": lambda d: ["examine", good(d), "--rate", "50k"],
    "not a unit": lambda d: ["examine", good(d), "--rate", "1000", "--unit", "12"],
    "no such channel": lambda d: ["examine", good(d), "--rate", "1000", "--channel", "nine"],
    "source without unit": lambda d: ["examine", good(d), "--rate", "1000", "--source", "10k"],
    "no source": lambda d: ["examine", good(d), "--rate", "1000", "--source", "0 Ω"],
    "no such reference": lambda d: ["examine", good(d), "--rate", "1000", "--reference", "nine"],
    "lone reference": lambda d: ["examine", good(d), "--rate", "1000", "--reference", "v"],
    "trigger without unit": lambda d: ["examine", good(d), "--rate", "1000", "--trigger-at", "5"],
    "two references": lambda d: ["examine", good(d), "--reference", "v", "--trigger-at", "5ms"],
    "mains": lambda d: ["examine", good(d), "--rate", "1000", "--mains", "fifty"],
    "mains too fast": lambda d: ["examine", good(d), "--rate", "1000", "--mains", "1 MHz"],
    "quick and deep": lambda d: ["examine", good(d), "--rate", "1000", "--quick", "--deep"],
    "unknown option": lambda d: ["examine", good(d), "--wiggle"],
    "option without value": lambda d: ["examine", good(d), "--rate"],
    "unknown command": lambda d: ["wiggle", good(d)],
    "count": lambda d: ["examine", good(d), "--interleaved", "many"],
    "format": lambda d: ["examine", good(d), "--format", "tape"],
    "dtype": lambda d: ["examine", good(d), "--dtype", "wide", "--format", "raw", "--rate", "9"],
    "dataset": lambda d: ["examine", arrays(d), "--rate", "1000"],
    "picture": lambda d: ["examine", good(d), "--rate", "1000", "--figure", str(d / "out.tape")],
    "no folder": lambda d: ["examine", good(d), "--rate", "1000", "--figure", str(d / "a/b.png")],
    "demo argument": lambda d: ["demo", "extra"],
}  # fmt: skip


def written(path, content):
    path.write_bytes(content)
    return str(path)


def good(folder):
    numbers = samples({1: (0.1, 0.0)}, 50.0, 1000.0, 0.5, 1e-3)
    return written(folder / "good.csv", b"v\n" + "\n".join(map(str, numbers)).encode())


def arrays(folder):
    np.savez(folder / "two.npz", a=np.ones(100), b=np.zeros((100, 2)), c=np.arange(50))
    return str(folder / "two.npz")


@pytest.mark.parametrize("kind", BAD)
def test_bad_input_gets_one_line_and_code_2(kind, tmp_path, capsys):
    assert main(BAD[kind](tmp_path)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("straypath: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err


ODD = {
    "constant": np.ones(1000),
    "two samples": np.array([1.0, 2.0]),
    "integer zeros": np.zeros(500, np.int16),
    "one step": np.r_[np.zeros(500), np.ones(500)],
    "too large": 1e300 * np.cos(np.arange(1000)),
    "too small": 1e-300 * np.cos(np.arange(1000)),
    "hole in the middle": np.r_[np.cos(np.arange(400)), np.full(300, np.nan), np.ones(600)],
    "an infinity": np.r_[np.cos(np.arange(400)), np.inf, np.sin(np.arange(600) ** 1.5)],
    "one finite sample": np.r_[np.full(99, np.nan), 1.0],
    "bytes": (np.arange(5000) * 37 % 256).astype(np.uint8),
    "large offset": 1e9 + np.cos(np.arange(5000) ** 1.7),
    "many channels": np.cos(np.arange(10_000) ** 1.3).reshape(1000, 10),
}


@pytest.mark.parametrize("rate", ["37", "1 kHz", "1 MHz"])
@pytest.mark.parametrize("kind", ODD)
def test_odd_records_are_examined_and_drawn(kind, rate, tmp_path, capsys):
    np.save(tmp_path / "odd.npy", ODD[kind])
    picture = tmp_path / "odd.png"
    arguments = ["examine", str(tmp_path / "odd.npy"), "--rate", rate]
    assert main([*arguments, "--figure", str(picture)]) == 0
    assert picture.read_bytes().startswith(PNG)
    assert main([*arguments, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "nan" not in out.casefold().split()


def test_an_unreadable_file_gets_one_line(tmp_path, capsys, monkeypatch):
    path = Path(good(tmp_path))
    real = Path.open

    def refuse(self, *arguments, **more):
        if self == path:
            raise PermissionError(13, "Permission denied")
        return real(self, *arguments, **more)

    monkeypatch.setattr(Path, "open", refuse)
    assert main(["examine", str(path)]) == 2
    assert "may not be read" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (MemoryError(), "not enough memory"),
        (KeyboardInterrupt(), "stopped"),
        (ZeroDivisionError("x"), "a fault in straypath itself (ZeroDivisionError: x)"),
    ],
)
def test_what_must_not_happen_is_told_on_one_line(error, said, hum, capsys, monkeypatch):
    def fail(*arguments, **more):
        raise error

    monkeypatch.setattr("straypath.inquiry.examine", fail)
    monkeypatch.delenv("STRAYPATH_TRACEBACK", raising=False)
    assert main(["examine", str(hum)]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1


def test_no_progress_bar_off_a_terminal(capsys):
    with Bar(patience_s=0.0) as bar:
        bar(0.5, "working")
    assert capsys.readouterr().err == ""


def test_a_progress_bar_on_a_terminal(capsys, monkeypatch):
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    with Bar(patience_s=0.0) as bar:
        bar.file("a.csv", 1, 2)
        bar(0.5, "mains comb")
        shown = bar._shown
        assert shown is not None
        assert shown.tasks[0].completed == pytest.approx(0.75)
    with Bar(patience_s=60.0) as bar:
        bar(0.5, "quick")
        assert bar._shown is None
    capsys.readouterr()


def test_demo_page(capsys, tmp_path):
    assert main(["demo", "--figure", str(tmp_path / "demo.svg")]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "Invented data" in out
    assert "It is 50 Hz mains, probability over 99" in " ".join(
        out.split()
    )  # the whole page stands in the README
    assert (tmp_path / "demo.svg").stat().st_size > 10_000


def test_demo_is_the_examination_of_the_included_file(capsys):
    assert main(["demo", "--json"]) == 0
    demo = capsys.readouterr().out
    with example() as path:
        assert main(["examine", str(path), "--json"]) == 0
    assert capsys.readouterr().out == demo
    assert json.loads(demo)["capture"]["invented"] is True
