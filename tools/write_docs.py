"""Write into README.md and docs/ what the program prints and draws now.

Renewed are the help in docs, every output shown under a ``$ straypath`` command, every
``# prints`` line under Python, and the pictures. Run it from the checkout after a change to the
command line or to what it says: ``python tools/write_docs.py``; then read the difference.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

from straypath.cli import main
from straypath.demo import example

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[1]
HELP = re.compile(r"```text\nstraypath (\w+).*?\n```", re.DOTALL)
CONSOLE = re.compile(r"```console\n(.*?)\n```", re.DOTALL)
PYTHON = re.compile(r"```python\n(.*?)\n```", re.DOTALL)
EXAMPLE_NAMES = ("src/straypath/demo/invented-geophone.csv", "pump.csv")


def printed(call: Callable[[], object]) -> str:
    """Return what a call prints, without spaces at the ends of lines."""
    written = io.StringIO()
    with contextlib.redirect_stdout(written):
        call()
    return "\n".join(line.rstrip() for line in written.getvalue().strip("\n").splitlines())


def run(command: str) -> str:
    """Run one ``straypath …`` command as a shell would; return what it prints on the screen."""
    words = shlex.split(command)
    if words[0] != "straypath":
        raise ValueError(command)
    target = None
    if ">" in words:
        words, (_, target) = words[:-2], words[-2:]
    text = printed(lambda: main(words[1:]))
    if target is None:
        return text
    Path(target).write_text(f"{text}\n", encoding="utf-8")
    return ""


def shown(block: str) -> str:
    """Return a console block with the outputs that its commands give now."""
    parts = []
    for step in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        command = step.partition("\n")[0]
        output = run(command)
        parts.append(f"$ {command}\n{output}".rstrip())
    return "\n".join(parts)


def ran(block: str) -> str:
    """Return a Python block with what it prints now as ``# prints`` lines at its end."""
    code = re.sub(r"\n# prints .*", "", block)
    output = printed(lambda: exec(compile(code, "block", "exec"), {}))  # noqa: S102
    return "\n".join([code, *(f"# prints {line}" for line in output.splitlines())])


def renewed(page: str) -> str:
    """Return a page as it should be now."""
    page = HELP.sub(lambda m: f"```text\n{printed(lambda: main([m[1], '--help']))}\n```", page)
    page = CONSOLE.sub(lambda m: f"```console\n{shown(m[1])}\n```", page)
    return PYTHON.sub(lambda m: f"```python\n{ran(m[1])}\n```", page)


@contextlib.contextmanager
def example_folder():
    """Work in a new folder that holds the example under the names that the pages use."""
    with example() as path, tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        for name in EXAMPLE_NAMES:
            Path(name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(path, name)
        yield Path(folder)


def write() -> None:
    """Renew all pages and pictures."""
    os.environ["COLUMNS"] = "80"
    with example_folder():
        for name in ("README.md", "docs/examine.md", "docs/plan.md"):
            page = ROOT / name
            page.write_text(renewed(page.read_text(encoding="utf-8")), encoding="utf-8")
        images = ROOT / "docs" / "images"
        images.mkdir(exist_ok=True)
        for name, options in (("demo.png", []), ("demo-dark.png", ["--dark"])):
            printed(lambda o=options, n=name: main(["demo", *o, "--figure", str(images / n)]))
            make_small(images / name)


def make_small(path: Path) -> None:
    """Keep 64 colours of a picture: it holds few, and the repository keeps every version."""
    with Image.open(path) as picture:
        small = picture.convert("RGB").quantize(64, method=Image.Quantize.MEDIANCUT, dither=0)
    small.save(path, optimize=True)


if __name__ == "__main__":
    write()
