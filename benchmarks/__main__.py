"""Print every ratio: `python -m benchmarks`."""

from __future__ import annotations

import subprocess
import sys

from benchmarks import comb, contents


def main() -> int:
    """Run all benchmarks; return 1 if a bound is missed."""
    lines = []
    for table in (comb.main, contents.main):
        lines += (made := table())
        print("\n".join(made), flush=True)
    # A process of its own: the reader's memory must not be that of the comb.
    text = subprocess.run([sys.executable, "-m", "benchmarks.text_reader"], check=False)
    return int(text.returncode != 0 or any("MISSED" in line for line in lines))


if __name__ == "__main__":
    raise SystemExit(main())
