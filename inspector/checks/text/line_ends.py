"""Lines that end in different ways, in a rare way, or not at all."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="line-ends",
    title="Line ends",
    kinds={"mixed-newlines": Severity.WARNING, "bare-returns": Severity.WARNING, "no-final-newline": Severity.NOTE},
    rationale=Rationale(
        what="The file mixes line ends, uses bare carriage returns, or its last line has no end.",
        after_import="Names come in with an invisible character behind them and match nothing; some readers see one "
        "single line, others drop the last one.",
        what_to_do="Export again on one system. Copy with a tool that doesn't convert text.",
    ),
    fixes=("clean-text",),
    needs=(Trait.STATEMENTS,),
)
