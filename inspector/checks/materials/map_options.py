"""Map options that different readers treat in different ways."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Subject, spot_finding
from inspector.checks.base.textures import COLOUR, Usage, usages
from inspector.formats.format import Trait
from inspector.formats.wavefront.map_options import is_number
from inspector.names import Name

_MOVING = (b"-s", b"-o", b"-t", b"-mm", b"-clamp", b"-imfchan")
"""Options that move, scale, distort or crop the image, or change all its values."""

_DEFAULTS: dict[bytes, tuple[tuple[bytes, ...], ...]] = {
    b"-blendu": ((b"on",),),
    b"-blendv": ((b"on",),),
    b"-cc": ((b"off",),),
    b"-clamp": ((b"off",),),
    b"-boost": ((b"0",),),
    b"-imfchan": ((b"l",), (b"m",)),
}
"""Option -> its default values, as text (MTL File Formats 4.2, 1995). The default of `-imfchan` is `l` for height
maps and `m` for other maps.
"""

_NUMBERS = {b"-s": (1.0, 1.0, 1.0), b"-o": (0.0, 0.0, 0.0), b"-t": (0.0, 0.0, 0.0), b"-mm": (0.0, 1.0)}
_ORDINARY = frozenset((b"-bm", b"-type"))
"""Options that are never reported (the height of bumps, and the kind of reflection), because they are part of the
meaning of their statements.
"""


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[bool, list[tuple[Name, Usage]]] = {}
    for usage in usages(context):
        for option in _unusual(usage):
            met.setdefault(option in _MOVING, []).append((Name(option), usage))
    for moving, places in sorted(met.items(), reverse=True):
        seen = moving and any(usage.keyword in COLOUR for _, usage in places)
        yield spot_finding(
            context,
            CHECK.id,
            Severity.WARNING if seen else Severity.NOTE,
            f"readers treat {Subject('map option', (option for option, _ in places))} in different ways",
            [usage.spot for _, usage in places],
            {"first": places[0][0].display},
        )


def _unusual(usage: Usage) -> Iterator[bytes]:
    """Yield, in lower case, the options of the map that differ from their defaults, except those in `_ORDINARY`."""
    options = usage.map.map.options
    heads = [at for at, word in enumerate(options) if word.startswith(b"-") and not is_number(word)]
    for start, end in pairwise([*heads, len(options)]):
        option = options[start].lower()
        if option not in _ORDINARY and not _is_default(option, options[start + 1 : end]):
            yield option


def _is_default(option: bytes, values: Sequence[bytes]) -> bool:
    if option in _NUMBERS:
        numbers = [float(value) for value in values if is_number(value)]
        return all(number == default for number, default in zip(numbers, _NUMBERS[option], strict=False))
    return tuple(value.lower() for value in values) in _DEFAULTS.get(option, ())


CHECK = Check(
    id="map-options",
    title="Map options",
    severity=Severity.WARNING,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A map statement has options, such as scale (-s), offset (-o), a range of values (-mm) or no repetition "
        "(-clamp).",
        after_import="Readers that ignore an option show the texture at a different position or size, or repeat the "
        "texture. Some readers read the option as part of the file name.",
        what_to_do="Apply the scale and the offset to the UVs or to the image, and export again without options. "
        "Alternatively, set the options by hand after the import.",
    ),
    run=run,
)
