"""The plan command: pages, JSON, help, and every kind of wrong value."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from golden import check_golden

from straypath.cli import main, run

GOLDEN = Path(__file__).parent / "golden"
SCHEMA = Path(__file__).parents[2] / "docs" / "plan-1.schema.json"
HEAVY = ("numpy", "scipy", "polars", "matplotlib")
QUESTIONS = ("tell-mains", "hum", "separate", "frame", "record")

CASES = {
    "tell-mains": ["tell-mains", "--duration", "20ms"],
    "tell-mains-too-short": [
        "tell-mains", "--duration", "15ms", "--level", "1 mV", "--floor", "10 µV/rtHz",
    ],
    "hum": ["hum", "--level", "2 µV", "--floor", "100 nV/√Hz", "--within", "5 %"],
    "separate": [
        "separate", "1 kHz", "999.6 Hz", "--level", "1 µV", "--floor", "1 µV/sqrt(Hz)",
    ],
    "frame": [
        "frame", "217 Hz", "--level", "100 µV", "--width", "577 µs", "--floor", "1 µV/√Hz",
    ],
    "record": [
        "record", "--duration", "10 s", "--rate", "10 kHz", "--floor", "10 nV/√Hz",
        "--step", "1 mV", "--mains", "49.98 Hz",
    ],
}  # fmt: skip


# regression: the page of each question
@pytest.mark.parametrize("case", CASES)
def test_pages(case, capsys):
    assert main(["plan", *CASES[case]]) == 0
    text, err = capsys.readouterr()
    assert err == ""
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text
    assert "…" not in text
    assert "Assumed" in text
    check_golden(text, GOLDEN / f"plan-{case}.txt")


@pytest.mark.parametrize("case", CASES)
def test_json_keeps_to_its_schema_and_says_the_same_twice(case, capsys):
    texts = []
    for _ in range(2):
        assert main(["plan", *CASES[case], "--json"]) == 0
        texts.append(capsys.readouterr().out)
    assert texts[0] == texts[1]
    document = json.loads(texts[0])
    jsonschema.validate(document, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert document["question"] == CASES[case][0]


def test_inputs_are_read_with_their_units(capsys):
    main(["plan", *CASES["frame"], "--json"])
    inputs = json.loads(capsys.readouterr().out)["inputs"]
    assert inputs == pytest.approx(
        {"frame_hz": 217.0, "level_v": 1e-4, "floor_v_per_rthz": 1e-6, "width_s": 577e-6}
    )


def test_run_returns_the_records():
    outcome = run(["plan", *CASES["hum"]])
    assert outcome.plan.recording.duration_s == 2.2
    verdicts = run(["plan", *CASES["record"]]).verdicts
    assert [verdict.question for verdict in verdicts] == list(QUESTIONS[:4])


def test_currents_and_pressures_plan_alike(capsys):
    for level, floor in (("2 µA", "100 nA/√Hz"), ("2 µPa", "100 nPa/rtHz")):
        assert main(["plan", "hum", "--level", level, "--floor", floor]) == 0
        said = capsys.readouterr().out
        assert said.startswith(f"Record 2.2 s or more at 1 kHz or faster: {level} of hum")
    main(["plan", "hum", "--level", "2 µA", "--floor", "100 nA/√Hz", "--json"])
    assert json.loads(capsys.readouterr().out)["unit"] == "A"


def test_other_mains_and_other_lines(capsys):
    arguments = ["tell-mains", "--duration", "60 ms", "--between", "16.7 Hz", "50", "--wrong", "5%"]
    assert main(["plan", *arguments]) == 0
    assert "16.7 from 50 Hz" in capsys.readouterr().out
    arguments = ["--mains", "60 Hz", "--order", "3", "--breathing", "3 dB", "--step", "1 µV"]
    assert main(["plan", "hum", "--level", "1 mV", "--floor", "1 µV/√Hz", *arguments]) == 0
    assert "hum at 180 Hz" in capsys.readouterr().out
    arguments = ["separate", "60 Hz", "61 Hz", "--level", "1 mV", "--other", "1 µV"]
    assert main(["plan", *arguments, "--floor", "10 nV/√Hz", "--sigmas", "3"]) == 0
    assert "60 Hz and 61 Hz then show as two" in capsys.readouterr().out


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_question_and_option_has_words(question, capsys):
    assert main(["plan", question, "--help"]) == 0
    text = "\n".join(line.rstrip() for line in capsys.readouterr().out.strip().splitlines())
    usage, prose = text.split("\n\n")[:2]
    assert usage.startswith(f"straypath plan {question}")
    assert prose.endswith(".")
    options = re.findall(r"^  (--\S+)(?: [A-Z]+)*(.*)$", text, re.MULTILINE)
    assert len(options) >= 4
    assert all(words.strip() for _, words in options)
    assert "FILE" not in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_the_list_of_questions_is_whole(capsys):
    assert main(["plan", "--help"]) == 0
    assert tuple(re.findall(r"^  ([a-z-]+) ", capsys.readouterr().out, re.MULTILINE)) == QUESTIONS
    assert main(["plan"]) == 0
    assert "Questions" in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [["plan", "--help"], ["plan", "frame", "--help"]])
def test_help_loads_no_numerical_library(arguments):
    code = (
        "import sys; from straypath.cli import main; main(sys.argv[1:]); "
        f"sys.exit(3 if any(m in sys.modules for m in {HEAVY!r}) else 0)"
    )
    command = [sys.executable, "-c", code, *arguments]
    done = subprocess.run(command, check=False, capture_output=True, text=True)  # noqa: S603
    assert done.returncode == 0
    assert "straypath plan" in done.stdout


HUM = ["hum", "--level", "2 mV", "--floor", "10 nV/√Hz"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["tell-mains"], "tell-mains needs a length"),
        (["tell-mains", "--duration", "20"], "--duration: '20' has no unit"),
        (["tell-mains", "--duration=-20ms"], "not above zero"),
        (["tell-mains", "--duration", "20ms", "--wrong", "60 %"], "no chance of an error"),
        (["tell-mains", "--duration", "20ms", "--between", "50 Hz", "50 Hz"], "are the same"),
        (["hum"], "requires an argument"),
        (["hum", "--level", "2m", "--floor", "10 nV/√Hz"], "Did you mean '2mV'?"),
        (["hum", "--level", "2 mA", "--floor", "10 nV/√Hz"], "'10 nV' is not in A"),
        (["hum", "--level", "2 mV", "--floor", "10 nV"], "not a noise density"),
        (["hum", "--level", "2 mV", "--floor", "10 n/√Hz"], "Write it like '10 nV/√Hz'"),
        ([*HUM, "--within", "5"], "--within: '5' has no unit. Write it like '5 %'"),
        ([*HUM, "--within", "80 %"], "hardly"),
        ([*HUM, "--within", "0 %"], "not above zero"),
        ([*HUM, "--within", "5 m%"], "Write it like '5 %'"),
        ([*HUM, "--order", "0"], "not above zero"),
        ([*HUM, "--order", "x"], "--order"),
        (["hum", "--level", "2 pV", "--floor", "1 V/√Hz"], "hours"),
        (["separate", "1 kHz"], "SECOND requires an argument"),
        (["separate", "1 kHz", "1 kHz"], "the two rates are the same"),
        (["separate", "1 kHz", "2 bananas"], "'2 bananas' is not in Hz"),
        (["separate", "1 kHz", "2 kHz", "--other", "1 mV"], "--other needs --level"),
        (["separate", "1 kHz", "2 kHz", "--level", "1 mV"], "level and floor go together"),
        (["frame", "217 Hz", "--level", "1 V", "--floor", "1 V/√Hz", "--width", "4 ms"], "half"),
        (["record", "--duration", "0 s", "--rate", "1 kHz"], "--duration: 0 is not above zero"),
        (["record", "--duration", "1 s", "--rate", "1 kHz", "--step=-1 V"], "--step: -1"),
        (["nothing"], "Unknown command"),
    ],
)
def test_wrong_values_end_in_one_line(arguments, says, capsys):
    assert main(["plan", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("straypath: ")
    assert err.count("\n") == 1
    assert says in err
