"""Read a rules file (TOML 1.0). Errors name the file, the key, the allowed values and, if known, the line."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NoReturn

from inspector.errors import MeshqcError
from inspector.names import Name, safe
from inspector.rules import values
from inspector.rules.model import CheckRule, Demand, Rules
from inspector.rules.rule_keys import KEYS, SECTIONS
from inspector.safe_open import open_place
from inspector.units import METRES

RULES_BYTES = 65_536
"""Maximum size of a rules file, in bytes."""

SEVERITIES = ("off", "error", "warning", "note")

Table = Mapping[str, object]


def read_rules(file: Path, checks: Mapping[str, tuple[str, ...]]) -> Rules:
    """Read a rules file. If any rule is wrong, the whole file is refused, because forbidden content could pass without
    that rule.

    Args:
        file: The file, with all links resolved.
        checks: For each check id, the names of the thresholds that rules can set.

    Raises:
        MeshqcError: The file can't be read, or its content is wrong.
    """
    name = Name.from_path(file)
    try:
        with os.fdopen(open_place(file), "rb") as stream:
            data = stream.read(RULES_BYTES + 1)
    except OSError as error:
        raise MeshqcError(f"{name}: the rules can't be read ({error.strerror})") from error
    if len(data) > RULES_BYTES:
        raise MeshqcError(f"{name}: the file has more than {RULES_BYTES:,} bytes, too many for a rules file")
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise MeshqcError(f"{name}, line {line}: not UTF-8 text; save the file as UTF-8") from error
    return _RulesReading(name, text, checks).rules(toml_table(text, name, "rules file"), file)


def toml_table(text: str, name: Name | None, thing: str) -> dict[str, Any]:
    """Parse the text of a TOML file.

    Raises:
        MeshqcError: The text is not valid TOML, or would take too long to parse.
    """
    if has_long_key(text):
        raise MeshqcError(f"{name}: a key has more than {MOST_DOTS} dots, which is too many for a {thing}")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise MeshqcError(f"{name}: not valid TOML: {safe(str(error))}") from error
    except RecursionError as error:
        raise MeshqcError(f"{name}: values are nested too deeply for a {thing}") from error


MOST_DOTS = 200
"""Maximum number of dots in a key. Parsing time grows with the square of the number of dots."""

_QUOTED = re.compile(r"""["](?:[^"\\]|\\.?)*(?:"|$)|'[^']*(?:'|$)""")
"""Text in quotation marks. Text without a closing mark matches up to the end of the line; otherwise, searching would be
slow."""

_BETWEEN_KEYS = re.compile(r"[=,{}\[\]]")
"""The characters between keys, values and inline tables."""

_MOST_TRIES = 20
"""Maximum number of lines that are tested in the search for a key. Each test parses the text before the line."""


@dataclass(frozen=True, slots=True)
class _RulesReading:
    name: Name
    text: str
    checks: Mapping[str, tuple[str, ...]]

    def rules(self, table: Table, file: Path) -> Rules:
        known = (*SECTIONS, "checks")
        for key in table:
            if key not in known:
                self._refuse((key,), f"there is no such table; the tables are {', '.join(known)}", known)
        demands = {key: demand for section in SECTIONS for key, demand in self._demands(section, table)}
        self._between(demands)
        checks = self._table(("checks",), table.get("checks", {}))
        own = {check: self._check(check, value) for check, value in checks.items()}
        return Rules(_in_units(demands), own, file)

    def _demands(self, section: str, table: Table) -> Iterator[tuple[str, Demand]]:
        given = dict(self._table((section,), table.get(section, {})))
        shared = self._reason((section,), given.pop("reason", ""))
        for key, written in given.items():
            name, path = f"{section}.{key}", (section, key)
            if name not in KEYS:
                known = [one.partition(".")[2] for one in KEYS if one.startswith(f"{section}.")]
                self._refuse(path, f"there is no such rule; the rules in [{section}] are {', '.join(known)}", known)
            full = written if isinstance(written, dict) else {"value": written}
            self._only(path, full, ("value", "reason"))
            value, reason = full.get("value"), self._reason(path, full.get("reason", "")) or shared
            try:
                yield name, Demand(KEYS[name].read(value), reason)
            except ValueError as error:
                self._refuse(path, str(error) or f"expected {KEYS[name].allowed}, but got {value!r}")

    def _between(self, demands: Mapping[str, Demand]) -> None:
        """Refuse a requirement if the rules don't state another requirement that is needed to judge it."""
        for key in ("scene.size", "scene.height"):
            if key in demands and isinstance(demands[key].value, str) and "scene.unit" not in demands:
                self._refuse(tuple(key.split(".")), "a length with a unit needs scene.unit, the unit of the scene")
        for key, other in (("scene.up", "scene.height"), ("scene.height", "scene.up")):
            if key in demands and other not in demands:
                why = "the up axis is recognised by the object's height"
                self._refuse(tuple(key.split(".")), f"{other} is required as well, because {why}")

    def _check(self, check: str, value: object) -> CheckRule:
        path = ("checks", check)
        if check not in self.checks:
            self._refuse(path, "there is no such check; `meshqc checks` lists all checks", self.checks)
        rule = {"severity": value} if isinstance(value, str) else self._table(path, value)
        self._only(path, rule, ("severity", "thresholds", "reason"))
        severity = rule.get("severity", "")
        if severity not in (*SEVERITIES, ""):
            self._refuse(path, f"expected a severity ({', '.join(SEVERITIES)}), but got {severity!r}")
        thresholds = self._thresholds(check, rule.get("thresholds", {}))
        return CheckRule(str(severity), thresholds, self._reason(path, rule.get("reason", "")))

    def _thresholds(self, check: str, value: object) -> dict[str, float]:
        path = ("checks", check, "thresholds")
        known = self.checks[check]
        given = {}
        for key, number in self._table(path, value).items():
            if key not in known:
                there = f"it has {', '.join(known)}" if known else "none of its thresholds can be set"
                self._refuse((*path, key), f"{check} has no such threshold; {there}", known)
            if not isinstance(number, int | float) or isinstance(number, bool):
                self._refuse((*path, key), f"expected a number above 0, but got {number!r}")
            try:
                given[key] = values.positive(str(number))
            except ValueError as error:
                self._refuse((*path, key), str(error))
        return given

    def _table(self, path: tuple[str, ...], value: object) -> Table:
        if not isinstance(value, dict):
            self._refuse(path, f"expected a table, but got {value!r}")
        return value

    def _only(self, path: tuple[str, ...], table: Table, allowed: tuple[str, ...]) -> None:
        for key in table:
            if key not in allowed:
                self._refuse((*path, key), f"there is no such key; the keys are {', '.join(allowed)}", allowed)

    def _reason(self, path: tuple[str, ...], value: object) -> str:
        if not isinstance(value, str):
            self._refuse((*path, "reason"), f"expected text in quotation marks, but got {value!r}")
        return safe(" ".join(value.split()))

    def _refuse(self, path: tuple[str, ...], problem: str, known: object = ()) -> NoReturn:
        near = get_close_matches(path[-1], list(known), n=1) if isinstance(known, Mapping | list | tuple) else []
        hint = f" (nearest: {near[0]})" if near and near[0] != path[-1] else ""
        line = line_of(self.text, path)
        place = f", line {line}" if line else ""
        raise MeshqcError(f"{self.name}{place}: {safe('.'.join(path))}: {safe(problem)}{hint}")


def has_long_key(text: str) -> bool:
    """Return whether any key of a TOML text has more than MOST_DOTS dots. Quoted dots and comments don't count."""
    lines = (_QUOTED.sub("", line).partition("#")[0] for line in text.split("\n"))
    return any(key.count(".") > MOST_DOTS for line in lines for key in _BETWEEN_KEYS.split(line))


def line_of(text: str, path: tuple[str, ...]) -> int | None:
    """Return the number, from 1, of the line that defines a key in valid TOML; None if neither the key nor its table is
    found.

    It is the last line that contains the key's name and is preceded by valid TOML that doesn't define the key. If the
    key isn't found, the line of its table is returned. The parser doesn't report line numbers.
    """
    lines = text.splitlines(keepends=True)
    named = [at for at in reversed(range(len(lines))) if path[-1] in lines[at]]
    for at in named[:_MOST_TRIES]:
        if _is_without("".join(lines[:at]), path):
            return at + 1
    return line_of(text, path[:-1]) if len(path) > 1 else None


def _is_without(text: str, path: tuple[str, ...]) -> bool:
    try:
        value: object = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    for key in path:
        if not isinstance(value, dict) or key not in value:
            return True
        value = value[key]
    return False


def _in_units(demands: Mapping[str, Demand]) -> dict[str, Demand]:
    """Return the requirements. Lengths that are stated with a unit are converted to scene units. If the scene's unit
    isn't stated, nothing is converted."""
    unit = demands.get("scene.unit")
    if unit is None:
        return dict(demands)
    scale = float(METRES[str(unit.value)])
    return {
        key: Demand(values.metres(one.value) / scale, one.reason)
        if key in ("scene.size", "scene.height") and isinstance(one.value, str)
        else one
        for key, one in demands.items()
    }
