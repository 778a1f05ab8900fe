"""Write an inspection as JUnit XML, so that continuous integration and render queues can show findings as tests.

The document follows the schema junit-10.xsd (G. Boissinot, 2014). Each sequence is a suite, with a test per finding and
a test per check without findings.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inspector.checks.base.finding import Finding, Severity
from inspector.names import Name, safe
from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from xml.etree import ElementTree as Xml

    from inspector.inspection.inspection import FolderInspection, Inspection
    from inspector.rules.model import Rules


def render(result: FolderInspection, request: Request) -> str:
    """Write the document in ASCII.

    A finding with the severity `request.fail_on` or a higher severity is a failed test. Any other finding is a passed
    test with the message in `system-out`. A check that failed is a test with an error.
    """
    from xml.etree import ElementTree as Xml

    root = Xml.Element("testsuites", name=f"meshqc {Name.from_path(result.root)}")
    root.extend(_suite(one, request.fail_on, result.settings.rules) for one in result.inspections)
    for key in ("tests", "failures", "errors"):
        root.set(key, str(sum(int(suite.attrib[key]) for suite in root)))
    Xml.indent(root)
    text: bytes = Xml.tostring(root, "us-ascii", xml_declaration=True)
    return text.decode() + "\n"


def _suite(one: Inspection, level: Severity | None, rules: Rules) -> Xml.Element:
    from xml.etree import ElementTree as Xml

    from inspector.report.text import rules_words, sequence_title

    tests = list(_tests(one, level))
    counts = {key: str(sum(test.find(tag) is not None for test in tests)) for key, tag in _OUTCOMES.items()}
    suite = Xml.Element("testsuite", {"name": sequence_title(one.sequence), "tests": str(len(tests)), **counts})
    properties = Xml.SubElement(suite, "properties")
    for severity in reversed(Severity):
        found = sum(finding.severity is severity for finding in one.findings)
        Xml.SubElement(properties, "property", name=f"{severity.word}s", value=str(found))
    Xml.SubElement(properties, "property", name="frames", value=str(len(one.sequence.files)))
    if (words := rules_words(rules)) is not None:
        Xml.SubElement(properties, "property", name="rules", value=words)
    suite.extend(tests)
    return suite


_OUTCOMES = {"failures": "failure", "errors": "error", "skipped": "skipped"}


def _tests(one: Inspection, level: Severity | None) -> Iterator[Xml.Element]:
    from xml.etree import ElementTree as Xml

    from inspector.checks.base.registry import all_checks
    from inspector.report.text import sequence_title

    title = sequence_title(one.sequence)
    skipped, failed = dict(one.verdict.skipped), dict(one.verdict.failed)
    for check in all_checks():
        findings = [finding for finding in one.findings if finding.check == check.id]
        for number, finding in enumerate(findings, 1):
            test = Xml.Element("testcase", classname=title, name=check.id if number == 1 else f"{check.id} {number}")
            _add_outcome(test, finding, one, level)
            yield test
        if check.id in failed:
            test = Xml.Element("testcase", classname=title, name=f"{check.id} broke")
            outcome = Xml.SubElement(test, "error", type="failed check", message="the check failed and gave no result")
            outcome.text = "\n".join(map(safe, failed[check.id].splitlines()))
            yield test
        elif not findings:
            test = Xml.Element("testcase", classname=title, name=check.id)
            if check.id in skipped:
                Xml.SubElement(test, "skipped", message=safe(skipped[check.id]))
            yield test


def _add_outcome(test: Xml.Element, finding: Finding, one: Inspection, level: Severity | None) -> None:
    from xml.etree import ElementTree as Xml

    from inspector.checks.base.registry import check_by_id
    from inspector.report.text import place_text
    from inspector.sequence.discovery.frame_ranges import frames_words

    said = f"{safe(finding.message)}{frames_words(finding.frames, one.sequence)}"
    lines = [f"{finding.severity.word}: {said}{place_text(finding)}", check_by_id(finding.check).rationale.what_to_do]
    if finding.reason:
        lines.append(f"rule: {finding.reason}")
    if level is not None and finding.severity >= level:
        outcome = Xml.SubElement(test, "failure", type=finding.severity.word, message=said)
    else:
        outcome = Xml.SubElement(test, "system-out")
    outcome.text = "\n".join(lines)


FORMAT = ReportFormat("junit", "JUnit XML, for continuous integration and render queues", render)
