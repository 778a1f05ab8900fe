"""The forms that delivered frames can take beside OBJ, and what they lose by it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspector.formats.format import Format, Trait
from inspector.formats.registry import all_formats, format_by_id


@dataclass(frozen=True, slots=True)
class Form:
    """What the frames become. id: of a format, other than OBJ; unit: of the scene's numbers, None: not stated; rate:
    frames a second, None: not stated."""

    id: str
    unit: str | None = None
    rate: Fraction | None = None

    @property
    def format(self) -> Format:
        return format_by_id(self.id)


def forms() -> tuple[str, ...]:
    """Ids of all formats that frames can be delivered in beside OBJ."""
    return tuple(one.id for one in all_formats() if one.write is not None or one.scene is not None)


def losses(form: Form) -> str:
    """What the frames lose in that form, in plain words."""
    lacking = [trait.value for trait in Trait if trait is not Trait.STATEMENTS and trait not in form.format.carries]
    cut = ["faces with more than three corners are cut"] if Trait.POLYGONS not in form.format.carries else []
    left = [form.format.leaves] if form.format.leaves else []
    held = [f"no {', '.join(one for one in lacking if one != Trait.POLYGONS.value)}"] if lacking else []
    return "; ".join([*held, *cut, *left])
