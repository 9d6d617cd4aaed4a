"""What a PDF page really draws: its lines in millimetres, read back from the page description by pypdf.

Only the operators of ISO 32000-1, 8.4 and 8.5 that move the pen are followed: q, Q, cm, m, l, h.
"""

from __future__ import annotations

from pypdf import PageObject
from pypdf.generic import ContentStream

POINT = 25.4 / 72  # mm

Segment = tuple[tuple[float, float], tuple[float, float]]


def segments(page: PageObject) -> list[Segment]:
    """All straight lines of a page, in mm from its lower left corner."""
    content = page.get_contents()
    assert content is not None
    matrix, saved = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), []
    found: list[Segment] = []
    start = at = (0.0, 0.0)
    for operands, operator in ContentStream(content, page.pdf).operations:
        if operator in (b"m", b"l"):
            x, y = (float(value) for value in operands)
            a, b, c, d, e, f = matrix
            point = ((a * x + c * y + e) * POINT, (b * x + d * y + f) * POINT)
            if operator == b"l":
                found.append((at, point))
            else:
                start = point
            at = point
        elif operator == b"h":
            found.append((at, start))
            at = start
        elif operator == b"cm":
            a, b, c, d, e, f = (float(value) for value in operands)
            p, q, r, s, t, u = matrix
            matrix = (
                a * p + b * r,
                a * q + b * s,
                c * p + d * r,
                c * q + d * s,
                e * p + f * r + t,
                e * q + f * s + u,
            )
        elif operator == b"q":
            saved.append(matrix)
        elif operator == b"Q":
            matrix = saved.pop()
    return found
