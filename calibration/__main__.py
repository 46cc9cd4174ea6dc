"""Print every table: `python -m calibration [DRAWS] [TABLE …]`."""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat

from calibration import backgrounds, estimation, lines, nominal, presence, soundness, wander

TABLES = {
    "estimation": (estimation.run, estimation.cells, 1),
    "presence": (presence.run, presence.cells, 10),
    "lines": (lines.run, lines.cells, 5),
    "nominal": (nominal.run, nominal.cells, 1),
    "backgrounds": (backgrounds.run, backgrounds.cells, 1),
    "soundness": (soundness.run, soundness.cells, 1),
    "wander": (wander.run, wander.cells, 0.1),
}


def main(arguments: list[str]) -> None:
    """Run the tables that are named, or all."""
    draws = int(arguments[0]) if arguments else 2000
    for name in arguments[1:] or TABLES:
        run, cells, times = TABLES[name]
        print(f"\n{name}", flush=True)
        with ProcessPoolExecutor(2) as pool:
            for row in pool.map(run, cells(), repeat(int(draws * times))):
                print(row, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
