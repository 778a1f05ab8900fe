"""The functions of the extension module; what they do is said above each in the C source."""

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

_Text: TypeAlias = bytes | memoryview
_Array: TypeAlias = npt.NDArray[np.generic[Any]]

INTERFACE: int

def read_numbers(
    text: _Text, start: int, keyword: bytes, columns: int, powers: bytes, values: _Array, doubts: _Array, /
) -> tuple[int, int, int, int]: ...
def read_faces(
    text: _Text, start: int, keyword: bytes, most: int, v: _Array, vt: _Array, vn: _Array, ends: _Array, /
) -> tuple[int, int, int, bool, bool]: ...
def find_run(text: _Text, start: int, keyword: bytes, /) -> tuple[int, int]: ...
def is_same(one: _Array, other: _Array, /) -> bool: ...
def find_special(text: _Text, /) -> int: ...
def count_bytes(text: _Text, start: int, /) -> tuple[int, int]: ...
def has_odd_number(text: _Text, /) -> bool: ...
def count_decimals(text: _Text, columns: int, /) -> tuple[int, int]: ...
def measure_faces(
    positions: _Array,
    normals: _Array,
    offsets: _Array,
    v: _Array,
    vn: _Array,
    closed: bool,
    thresholds: tuple[float, float, float, float],
    flags: _Array,
    /,
) -> tuple[int, float, float, float, tuple[int, int, int, int]]: ...
def measure_box(positions: _Array, /) -> tuple[float, float, float, float, float, float] | None: ...
def measure_motion(positions: _Array, before: _Array, /) -> tuple[float, int, int]: ...
def measure_tear(
    positions: _Array, before: _Array, beside: _Array, alike: float, /
) -> tuple[int, float, float, float, float, int]: ...
def count_lengths(normals: _Array, low: float, high: float, /) -> int: ...
def find_owners(
    x: _Array,
    y: _Array,
    near: _Array,
    slope: _Array,
    first_row: _Array,
    row_counts: _Array,
    owner: _Array,
    nearest: _Array,
    width: int,
    /,
) -> None: ...
def resolve(
    owner: _Array,
    planes: _Array,
    light: _Array,
    coats: _Array,
    data: _Array,
    levels: _Array,
    first: _Array,
    picture: _Array,
    width: int,
    factor: int,
    /,
) -> None: ...
