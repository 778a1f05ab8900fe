"""State opacity as `d` in materials that state it only as `Tr`."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.checks.base.libraries import used_materials
from inspector.errors import Refusal
from inspector.fixes.base.assets import Assets
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.library_edit import stated_otherwise
from inspector.fixes.base.parameters import answers, typed, word_of
from inspector.formats.wavefront.library import Definition, Library
from inspector.formats.wavefront.library_lines import Statement
from inspector.formats.wavefront.opacity import lone_tr

TRANSPARENCY, OPACITY = "transparency", "opacity"


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[str]:
    """Find the materials that state their opacity only as `Tr`.

    Returns:
        A step whose `work` is the meaning of `Tr`: TRANSPARENCY or OPACITY.

    Raises:
        Refusal: There is no such material, or the parameter `means` is missing or wrong.
    """
    try:
        found = [(one, lone_tr(one.statements)) for one in used_materials(context)]
    except NotApplicable as reason:
        raise Refusal(str(reason)) from None
    lone = [(one, statement) for one, statement in found if statement is not None]
    if not lone:
        raise Refusal("no material gives its opacity only as `Tr`")
    means = word_of(parameters, "means", (TRANSPARENCY, OPACITY))
    if means is None:
        raise Refusal(
            f"the meaning of `Tr` is ambiguous; use {typed(FIX.id, f'means={TRANSPARENCY}')} if 1 means invisible, or "
            f"{typed(FIX.id, f'means={OPACITY}')} if 1 means opaque",
            answers(FIX.id, f"means={TRANSPARENCY}", f"means={OPACITY}"),
        )
    indices = sorted({index for one, _ in lone for index in one.indices})
    return Step(
        FIX.id,
        {"means": means},
        context.numbers(indices),
        f"state the opacity of {count_of(len(lone), 'material')} as `d`; `Tr` is read as {means}",
        tuple(
            Change(f"opacity of {one.definition.name}", f"Tr {_shown(statement)}", _restated(statement, means).decode())
            for one, statement in lone
        ),
        work=means,
    )


def _shown(statement: Statement) -> str:
    return statement.rest.decode("utf-8", "replace")


def _restated(statement: Statement, means: str) -> bytes:
    """Return the `d` statement that is equivalent to a `Tr` statement."""
    words = statement.rest.split()
    value = float(words[0])
    return b"d " + (words[0] if means == OPACITY else b"%.9g" % (1.0 - value))


def edit_assets(assets: Assets, step: Step[str], _: CheckContext) -> Assets:
    return assets.edited(
        lambda entry, _: stated_otherwise(
            entry,
            {
                statement: _restated(statement, step.work)
                for definition in entry.library.definitions
                if (statement := _of(entry.library, definition)) is not None
            },
        )
    )


def _of(library: Library, definition: Definition) -> Statement | None:
    return lone_tr(library.statements(definition))


FIX = Fix(
    id="opacity-statement",
    title="State opacity as `d`",
    kind=FixKind.ONE_CONSTANT,
    does="Replaces `Tr` with `d` in materials that have only `Tr`. For `d`, 1 always means opaque. For `Tr`, you "
    "state whether 1 means invisible or opaque.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.OPACITY}),
    plan=plan,
    parameters={"means": "transparency (Tr 1 means invisible, as usual) or opacity (Tr 1 means opaque)"},
    required=frozenset({"means"}),
    whole=True,
    edit_assets=edit_assets,
)
