"""Requirements of the delivery rules that the sequence doesn't meet."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.demands import JUDGES
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.sizes import STATED_SIZE


def run(context: CheckContext) -> Iterator[Finding]:
    for key, demand in context.settings.rules.demands.items():
        if key not in JUDGES:
            continue
        for breach in JUDGES[key](context, demand.value):
            yield Finding(
                CHECK.id,
                Severity.ERROR,
                f"{key}: {breach.message}",
                context.numbers(breach.indices),
                breach.where,
                {"rule": key, "found": breach.found},
                breach.fixes,
                demand.reason,
            )


CHECK = Check(
    id="delivery-rules",
    title="Delivery rules",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The sequence breaks one of the delivery rules in the receiving side's rules file (meshqc.toml).",
        after_import="The consequence depends on the rule. If the rules file gives a reason for the rule, the finding "
        "shows the reason.",
        what_to_do="Export the sequence again as the rule requires, or ask the author of the rules to change the rule.",
    ),
    run=run,
    fixes=("renumber", "triangulate", "recompute-normals", "drop-normals", "scale", "up-axis"),
    thresholds=(STATED_SIZE,),
)
