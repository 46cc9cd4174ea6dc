"""The JSON document: its shape, its bytes, and that nothing in it is not a number."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace
from math import inf, nan
from pathlib import Path

import jsonschema
import pytest
from golden import check_golden
from report.handmade import CASES, HUM, examination, quantity
from report.handmade_contents import ALL_CASES, CONTENTS_CASES

from straypath.contents.whole import Contents
from straypath.quantity import UpperLimit
from straypath.report import machine
from straypath.report.cautions import cautions

HERE = Path(__file__).parent
DOCS = HERE.parents[1] / "docs"
SCHEMA = json.loads((DOCS / "examine-1.schema.json").read_text(encoding="utf-8"))


def strict(text):
    def refuse(constant):
        raise AssertionError(constant)

    return json.loads(text, parse_constant=refuse)


@pytest.mark.parametrize("case", ALL_CASES)
def test_has_the_shape_that_is_promised(case):
    made = strict(machine.text([machine.document(ALL_CASES[case]())]))
    jsonschema.validate(made, SCHEMA)


def keys_of(schema):
    """Every key that a schema names."""
    if isinstance(schema, list):
        return set().union(*map(keys_of, schema)) if schema else set()
    if not isinstance(schema, dict):
        return set()
    below = set().union(*map(keys_of, schema.values())) if schema else set()
    return below | set(schema.get("properties", {}))


def test_every_key_stands_in_the_docs():
    page = (DOCS / "examine.md").read_text(encoding="utf-8").partition("## JSON")[2]
    missing = {key for key in keys_of(SCHEMA) if not re.search(rf"[`\".]{key}[`\"\[]", page)}
    assert len(keys_of(SCHEMA)) > 50
    assert missing == set()


def test_a_key_that_nobody_promised_is_noticed():
    made = strict(machine.text([machine.document(CASES["hum"]())]))
    made["channels"][0]["soundness"]["step"] = 1.0
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(made, SCHEMA)


def test_golden_document():
    made = examination(HUM, seconds=1.0, rate=2000.0, orders=3)
    text = machine.text([machine.document(made)])
    text = re.sub(r'"version": "[^"]+"', '"version": "any"', text)
    check_golden(text, HERE / "golden" / "examine.json")


def test_same_input_same_bytes():
    once, again = (machine.text([machine.document(CASES["hum"]())]) for _ in range(2))
    assert once == again


def test_what_is_not_finite_is_null():
    made = CASES["short"]()
    found = made.channels[0]
    mains = replace(
        found.mains, rms=UpperLimit(inf), frequency_hz=replace(quantity(50, 1), low=-inf, u=nan)
    )
    made = replace(made, channels=(replace(found, contents=Contents(mains)),))
    document = strict(machine.text([machine.document(made)]))
    jsonschema.validate(document, SCHEMA)
    assert document["channels"][0]["mains"]["rms_v"] == {"value": 0.0, "upper": None}
    assert document["channels"][0]["mains"]["frequency_hz"]["low"] is None


def test_another_unit_keeps_its_unit_and_its_numbers():
    document = machine.document(examination({1: (2.1, 0.0)}, unit="Pa", density=1e-3))
    channel = document["channels"][0]
    assert channel["unit"] == "Pa"
    assert channel["mains"]["lines"][0]["rms_v"]["value"] == 2.1


def test_names_its_input_and_its_checksum(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(b"1\n2\n" * 100_000)
    made = CASES["short"]()
    made = replace(made, capture=replace(made.capture, path=path, files=(path,)))
    # independent: hashlib over the whole file at once
    expected = {"name": "a.csv", "sha256": hashlib.sha256(path.read_bytes()).hexdigest()}
    assert machine.document(made)["inputs"] == [expected]


def test_names_both_files_of_a_pair(tmp_path):
    paths = tuple(tmp_path / name for name in ("a.cfg", "a.DAT"))
    for path in paths:
        path.write_bytes(b"x")
    made = CASES["short"]()
    made = replace(made, capture=replace(made.capture, path=paths[0], files=paths))
    assert [i["name"] for i in machine.document(made)["inputs"]] == ["a.cfg", "a.DAT"]


def test_says_why_there_is_no_reading():
    mains = machine.document(CASES["less than a cycle"]())["channels"][0]["mains"]
    assert mains["rms_v"] is None
    assert "shorter than one mains cycle" in mains["unread"]
    assert machine.document(CASES["hum"]())["channels"][0]["mains"]["unread"] is None


def test_wander_is_always_there():
    still, moved = (
        machine.document(CASES[c]())["channels"][0]["mains"] for c in ("hum", "wanders")
    )
    assert still["wander"] is None
    assert moved["wander"]["times_s"] == [2.0, 6.0, 10.0, 14.0, 18.0]


def test_what_proposes_to_act_bears_the_standing_notice():
    assert cautions(acts=False) == machine.document(CASES["hum"]())["cautions"] == []
    assert "can kill" in " ".join(cautions(acts=True))


def test_several_files_make_a_list():
    document = machine.document(CASES["short"]())
    assert len(strict(machine.text([document, document], several=True))) == 2
    assert strict(machine.text([document], several=True)) == [strict(machine.text([document]))]


def beside(case):
    """The first channel of a document about more than the mains."""
    return strict(machine.text([machine.document(CONTENTS_CASES[case]())]))["channels"][0]


def test_families_stand_as_they_are():
    channel = beside("everything")
    kinds = [family["kind"] for family in channel["families"]]
    assert kinds.count("clock") == kinds.count("carrier") == kinds.count("narrow-band") == 2
    sizes = [family["rms_v"]["value"] for family in channel["families"]]
    assert sizes == sorted(sizes, reverse=True)
    clock, carrier = channel["families"][:2]
    assert (clock["rate_hz"]["value"], clock["alias_of"]) == (1000.0, [])
    assert [line["order"] for line in carrier["lines"]] == [-1, 0, 1]
    assert carrier["spacing_hz"]["value"] == 49.9871
    assert carrier["alias_of"][:2] == [pytest.approx(3299.7), pytest.approx(6700.3)]
    assert clock["beside"] == {
        "order": 20, "distance_hz": 0.26, "sigmas": 812.0, "separate": True,
    }  # fmt: skip
    match = clock["matches"][0]
    assert (match["id"], match["name"], match["source"]) == ("usb-frame", "USB frame", "USB 2.0")
    folded = next(f for f in channel["families"] if f["rate_hz"]["value"] == 217.0)
    assert [m["alias"] for m in folded["matches"]] == [True, False, False, False, False]
    assert folded["lines"][0]["conversion_product"] is True


def test_floor_bursts_and_offset_stand_as_they_are():
    channel = beside("everything")
    assert channel["floor"]["white_v_per_rthz"]["value"] == 22e-6
    assert channel["floor"]["corner_hz"]["value"] == 12.0
    assert len(channel["floor"]["points"]) == 30
    bursts = channel["bursts"]
    assert (bursts["count"], bursts["locked"], bursts["per_cycle"]) == (9, True, 2)
    assert bursts["found"][0]["peak_v"] == 0.3
    assert channel["offset"]["steps"][1] == {
        "time_s": 1.2, "size_v": {"value": 2e-3, "u": 1e-4, "low": 1.804e-3, "high": 2.196e-3},
    }  # fmt: skip
    assert channel["course"]["orders"] == [1, 3]
    assert len(channel["course"]["rms_v"][1]) == len(channel["course"]["times_s"]) == 40
    assert channel["undetermined"][0]["what"] == "drift of the offset"


def test_what_was_not_read_is_null():
    channel = beside("line without mains")
    assert channel["offset"] is None
    assert channel["floor"]["corner_hz"] == {"value": 0.0, "upper": 1.7}
    assert channel["floor"]["slope"] is None
    assert channel["bursts"]["locked_p"] is None
    assert channel["bursts"]["test"] is None


def test_sigmas_without_end_are_null():
    (family,) = beside("numbers without end")["families"]
    assert family["beside"]["sigmas"] is None
    assert family["rms_v"]["low"] is None


def test_all_families_stand_in_the_document():
    assert len(beside("many families")["families"]) == 60
