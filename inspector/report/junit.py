"""An inspection as JUnit XML, which continuous integration and render queues show as passed and failed tests.

Form: the schema junit-10.xsd (G. Boissinot, 2014). One suite a sequence; one test a finding, or a check without any.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree as Xml

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import all_checks, check_by_id
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name, safe
from inspector.report.text import place_text, sequence_title
from inspector.sequence.discovery.frame_ranges import frames_words


def junit_text(result: FolderInspection, level: Severity | None) -> str:
    """The document, all in ASCII. A finding of severity `level` or worse is a failed test (None: no finding is); a
    lesser one passes with its words in system-out; a check that broke is an error."""
    root = Xml.Element("testsuites", name=f"meshqc {Name.from_path(result.root)}")
    root.extend(_suite(one, level) for one in result.inspections)
    for key in ("tests", "failures", "errors"):
        root.set(key, str(sum(int(suite.attrib[key]) for suite in root)))
    Xml.indent(root)
    text: bytes = Xml.tostring(root, "us-ascii", xml_declaration=True)
    return text.decode() + "\n"


def _suite(one: Inspection, level: Severity | None) -> Xml.Element:
    tests = list(_tests(one, level))
    counts = {key: str(sum(test.find(tag) is not None for test in tests)) for key, tag in _OUTCOMES.items()}
    suite = Xml.Element("testsuite", {"name": sequence_title(one.sequence), "tests": str(len(tests)), **counts})
    properties = Xml.SubElement(suite, "properties")
    for severity in reversed(Severity):
        found = sum(finding.severity is severity for finding in one.findings)
        Xml.SubElement(properties, "property", name=f"{severity.word}s", value=str(found))
    Xml.SubElement(properties, "property", name="frames", value=str(len(one.sequence.files)))
    suite.extend(tests)
    return suite


_OUTCOMES = {"failures": "failure", "errors": "error", "skipped": "skipped"}


def _tests(one: Inspection, level: Severity | None) -> Iterator[Xml.Element]:
    title = sequence_title(one.sequence)
    skipped, failed = dict(one.verdict.skipped), dict(one.verdict.failed)
    for check in all_checks():
        findings = [finding for finding in one.findings if finding.check == check.id]
        for number, finding in enumerate(findings, 1):
            test = Xml.Element("testcase", classname=title, name=check.id if number == 1 else f"{check.id} {number}")
            _tell(test, finding, one, level)
            yield test
        if check.id in failed:
            test = Xml.Element("testcase", classname=title, name=f"{check.id} broke")
            outcome = Xml.SubElement(test, "error", type="broken check", message="this check broke and judged nothing")
            outcome.text = "\n".join(map(safe, failed[check.id].splitlines()))
            yield test
        elif not findings:
            test = Xml.Element("testcase", classname=title, name=check.id)
            if check.id in skipped:
                Xml.SubElement(test, "skipped", message=safe(skipped[check.id]))
            yield test


def _tell(test: Xml.Element, finding: Finding, one: Inspection, level: Severity | None) -> None:
    said = f"{safe(finding.message)}{frames_words(finding.frames, one.sequence)}"
    lines = [f"{finding.severity.word}: {said}{place_text(finding)}", check_by_id(finding.check).rationale.what_to_do]
    if finding.reason:
        lines.append(f"rule: {finding.reason}")
    if level is not None and finding.severity >= level:
        outcome = Xml.SubElement(test, "failure", type=finding.severity.word, message=said)
    else:
        outcome = Xml.SubElement(test, "system-out")
    outcome.text = "\n".join(lines)
