"""Refuse files over 400 lines and functions over 60 in the package: the ceiling on growth.

A docstring is not counted: it may be as long as the physics needs.
"""

from __future__ import annotations

import ast
import sys
from pathlib import Path

FILE_LINES = 400
FUNCTION_LINES = 60


def main() -> int:
    """Print every offender; return 1 if there is one."""
    offences = []
    for path in sorted(Path("src").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        lines = text.count("\n")
        if lines > FILE_LINES:
            offences.append(f"{path}: {lines} lines")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = _code_lines(node)
                if length > FUNCTION_LINES:
                    offences.append(f"{path}:{node.lineno}: {node.name} has {length} lines")
    sys.stdout.write("".join(f"{offence}\n" for offence in offences))
    return 1 if offences else 0


def _code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    length = (node.end_lineno or node.lineno) - node.lineno + 1
    first = node.body[0]
    if ast.get_docstring(node) is not None:
        length -= (first.end_lineno or first.lineno) - first.lineno + 1
    return length


if __name__ == "__main__":
    raise SystemExit(main())
