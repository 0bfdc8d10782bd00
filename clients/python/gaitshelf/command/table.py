"""Tables and lines for a terminal."""
from __future__ import annotations

from typing import Sequence

COLUMNS = 80


def to_text(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Returns lines with two blanks between columns; a heading that starts with ">" is of numbers.

    A row of one cell is a remark: it stands as it is and widens nothing.
    """
    is_right = [heading.startswith(">") for heading in headings]
    cells = [[heading.removeprefix(">") for heading in headings]] + [list(row) for row in rows]
    widths = [max(len(row[i]) for row in cells if len(row) > 1) for i in range(len(headings))]
    lines = []
    for row in cells:
        line = row[0] if len(row) == 1 else "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, is_right))
        lines.append(line.rstrip())
    return "\n".join(lines)


def duration(seconds: float) -> str:
    """Returns a span such as "45 s", "3 min 05 s" or "2 h 10 min"."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
