"""The command line: parse, call, present. Only this package prints and sets exit codes.

Nothing here imports a numerical library until a command needs it, so that help comes at once.
"""

from straypath.cli.run import main, run

__all__ = ["main", "run"]
