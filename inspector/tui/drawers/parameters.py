"""Parameters of a fix, as somebody types them."""

from __future__ import annotations

from inspector.fixes.base.fix import AnyFix
from inspector.tui.drawers.prompt import Field, Values


def parameter_fields(fix: AnyFix) -> list[Field]:
    """A row for each parameter; what is left empty is worked out, or refused with the reason."""
    return [Field(name, meaning) for name, meaning in fix.parameters.items()]


def parameter_values(values: Values) -> dict[str, object]:
    """What was typed, without the rows left empty."""
    return {name: text for name, text in values.items() if text}
