"""Where output goes: narrow screens, closed and full outputs, pipes, figures over recordings."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from report.handmade import CASES, HUM, samples

from straypath.cli import main, terminal
from straypath.cli.page import page


@pytest.mark.parametrize("columns", [40, 60])
@pytest.mark.parametrize("case", CASES)
def test_nothing_is_cut_on_a_narrow_screen(case, columns, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(columns))
    terminal.show(page([CASES[case]()]))
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= columns
    assert "…" not in text


def test_long_names_stand_above_their_values_on_a_narrow_screen(capsys, monkeypatch, tmp_path):
    wave = samples(HUM, 50.01, 1000.0, 2.0, 1e-5)
    names = ("input of the left preamplifier", "output behind the band filter")
    rows = "".join(f"{v:.7f},{v:.7f}\n" for v in wave)
    path = tmp_path / "a.csv"
    path.write_text(f"# sample rate: 1 kHz\n{','.join(f'{n} (V)' for n in names)}\n{rows}")
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["examine", str(path)]) == 0
    text = capsys.readouterr().out
    assert "…" not in text
    assert all(name in text.partition("Record")[0] for name in names)
    assert "Mains comb at 50.0" in text


@pytest.mark.parametrize("link", ["same", "symbolic", "hard"])
def test_a_figure_never_takes_the_place_of_a_recording(link, hum, tmp_path, capsys):
    recording = tmp_path / "data.png"  # the content makes it a recording
    recording.write_bytes(hum.read_bytes())
    before = recording.read_bytes()
    target = recording if link == "same" else tmp_path / "figure.svg"
    if link == "symbolic":
        target.symlink_to(recording)
    elif link == "hard":
        target.hardlink_to(recording)
    assert main(["examine", str(hum), str(recording), "--figure", str(target)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "is a recording, which is never written to. Give the figure another name." in err
    assert err.count("\n") == 1
    assert recording.read_bytes() == before


def test_a_figure_never_takes_the_place_of_a_file_beside_the_recording(tmp_path, capsys):
    meta = {"core:datatype": "ri16_le", "core:sample_rate": 1000, "core:dataset": "samples.png"}
    described = {"global": meta, "captures": [], "annotations": []}
    (tmp_path / "a.sigmf-meta").write_text(json.dumps(described))
    wave = samples({1: (4000.0, 0.3)}, 50.0, 1000.0, 1.0, 5.0).astype("<i2").tobytes()
    (tmp_path / "samples.png").write_bytes(wave)
    arguments = ["examine", str(tmp_path / "a.sigmf-meta")]
    assert main([*arguments, "--figure", str(tmp_path / "samples.png")]) == 2
    assert "is a recording" in capsys.readouterr().err
    assert (tmp_path / "samples.png").read_bytes() == wave


def straypath(*arguments, **more):
    code = "import sys; from straypath.cli import main; sys.exit(main())"
    return subprocess.run(  # noqa: S603
        [sys.executable, "-c", code, *arguments],
        check=False, capture_output=True, timeout=60, **more,
    )  # fmt: skip


def test_a_pipe_that_closes_early_is_no_error(hum):
    code = "import sys; from straypath.cli import main; sys.exit(main())"
    process = subprocess.Popen(  # noqa: S603
        [sys.executable, "-c", code, "examine", *[str(hum)] * 3, "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.close()
    _, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert err == b""


@pytest.mark.parametrize("what", ["page", "json", "help"])
@pytest.mark.parametrize(
    ("where", "said"),
    [("&-", "standard output is closed"), ("/dev/full", "(No space left on device)")],
)
def test_output_that_cannot_be_written_gets_one_line(hum, what, where, said):
    code = "import sys; from straypath.cli import main; sys.exit(main())"
    call = {"page": ["examine", str(hum)], "json": ["demo", "--json"], "help": ["--help"]}[what]
    done = subprocess.run(  # noqa: S603
        ["/bin/sh", "-c", f'exec "$@" >{where}', "sh", sys.executable, "-c", code, *call],
        check=False, capture_output=True, timeout=60, text=True,
    )  # fmt: skip
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_letters_that_an_encoding_lacks_are_written_plainly(hum):
    done = straypath(
        "examine", str(hum), env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    )
    assert done.returncode == 0
    text = done.stdout.decode("ascii")
    assert "V/sqrtHz" in text
    assert not re.search(r"\d\?|\?\w", text)  # the stand-in for a letter that is lacking


def test_a_file_name_that_is_no_utf_8_costs_no_other_letter(hum, tmp_path):
    path = Path(os.fsdecode(bytes(tmp_path) + b"/bad\xff.csv"))
    path.write_bytes(hum.read_bytes())
    done = straypath("examine", str(path), env={**os.environ, "PYTHONUTF8": "1"})
    assert done.returncode == 0
    text = done.stdout.decode("utf-8")
    assert text.startswith("bad?.csv")
    assert "V/√Hz" in text
