"""A block's text in pieces of whole lines, so that the arrays made of each stay in the processor's cache."""

from __future__ import annotations

from collections.abc import Iterator


def cut_pieces(text: bytes, size: int) -> Iterator[bytes]:
    """Consecutive pieces of about `size` bytes (more where one line is longer), each ending in a newline."""
    start = 0
    while start < len(text):
        stop = text.rfind(b"\n", start, start + size) + 1 or text.find(b"\n", start) + 1
        if not stop:
            yield text[start:] + b"\n"
            return
        yield text[start:stop]
        start = stop
