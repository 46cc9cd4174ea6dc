"""The fetching itself: polite, checked, and loud when it fails. Archives here are invented."""

from __future__ import annotations

import zipfile

import fetch_recordings as tool
import pytest


@pytest.fixture
def archive(monkeypatch, tmp_path):
    """An invented package with one file, 'downloaded' by copying; counts its downloads."""
    made = tmp_path / "made.zip"
    with zipfile.ZipFile(made, "w") as opened:
        opened.writestr("invented-1.0/data/hum.txt", "0 1 0 -1")
    calls = []

    def download(archive, scratch):
        calls.append(archive)
        path = scratch / made.name
        path.write_bytes(made.read_bytes())
        return path

    monkeypatch.setenv("STRAYPATH_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(tool, "_download", download)
    digest = tool.hashlib.sha256(made.read_bytes()).hexdigest()

    def known(sha256=digest):
        wanted = {"hum.txt": "/data/hum.txt"}
        invented = tool.Archive("invented", "1.0", "wheel", sha256, "ours", wanted)
        monkeypatch.setattr(tool, "ARCHIVES", (invented,))
        return calls

    return known


def test_what_is_cached_is_not_fetched_again(archive):
    calls = archive()
    first, second = tool.fetch("hum.txt"), tool.fetch("hum.txt")
    assert first == second
    assert first.read_text() == "0 1 0 -1"
    assert len(calls) == 1
    assert sorted(p.name for p in first.parent.iterdir()) == [".lock", "hum.txt"]


def test_another_archive_of_that_name_is_refused(archive):
    archive(sha256="0" * 64)
    with pytest.raises(tool.NotFetchedError, match="has SHA-256"):
        tool.fetch("hum.txt")
    assert not (tool.cache_folder() / "invented-1.0" / "hum.txt").exists()


def test_a_failing_client_is_quoted(monkeypatch, tmp_path):
    command = [tool.sys.executable, "-c", "raise SystemExit('the shelf is empty')"]
    with pytest.raises(tool.NotFetchedError, match="could not be downloaded: the shelf is empty"):
        tool._run(command, tmp_path, tool.ARCHIVES[0])


def test_an_unknown_name_is_named(capsys):
    assert tool.main(["no-such.wav"]) == 1
    assert "no-such.wav" in capsys.readouterr().err


def test_the_cache_lies_outside_the_checkout(monkeypatch):
    monkeypatch.delenv("STRAYPATH_CACHE", raising=False)
    checkout = tool.Path(tool.__file__).resolve().parents[1]
    assert checkout not in tool.cache_folder().resolve().parents
