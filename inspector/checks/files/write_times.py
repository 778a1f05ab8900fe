"""Sequences whose files were written at times that suggest more than one export."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exports import SEAM_PAUSES, SEAM_SECONDS, exports, leftovers
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files


def run(context: CheckContext) -> Iterator[Finding]:
    made = exports(context.series)
    if not made.any() or leftovers(context) is not None:
        return
    most = Counter(made.tolist()).most_common(1)[0][0]
    others = np.flatnonzero(made != most).tolist()
    older, newer = bool((made[others] < most).any()), bool((made[others] > most).any())
    when = "before or after" if older and newer else "before" if older else "after"
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        f"{count_of(len(others), 'frame')} {'was' if len(others) == 1 else 'were'} written long {when} the others",
        context.numbers(others),
        files(context, others),
        {"exports": int(made.max()) + 1, "frames": len(others)},
    )


CHECK = Check(
    id="write-times",
    title="Written at different times",
    severity=Severity.NOTE,
    rationale=Rationale(
        what="Some frames were written long before or after the others, so there was probably more than one export.",
        after_import="If all exports show the same state of the object, no difference is visible. Frames that were not "
        "exported again after a change show an older state.",
        what_to_do="Make sure that all frames affected by a change were exported again.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(SEAM_SECONDS, SEAM_PAUSES),
)
