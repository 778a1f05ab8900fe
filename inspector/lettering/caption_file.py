"""Read caption versions from a TOML 1.0 file, or from a CSV file with one row per version."""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import NoReturn

from inspector.errors import MeshqcError
from inspector.names import Name, safe
from inspector.picture.canvas import Colour
from inspector.rules import values
from inspector.rules.read import toml_table
from inspector.safe_open import open_place
from inspector.sequence.discovery.scope import Scope

FILE_NAME = "captions.toml"
ALIGNMENTS = ("left", "centre", "right")

_FILE_BYTES = 262_144
"""Maximum size of a captions file, in bytes: about twice the size of a file with 500 versions of three lines each."""

# A file that exceeds one of the following limits is taken to be a mistake: rendering it would take minutes.
_MOST_VERSIONS = 500
"""Maximum number of versions per file."""

_MOST_TEXTS = 20
"""Maximum number of lines of text per version."""

_MOST_LETTERS = 200
"""Maximum number of characters per line of text."""

_LONGEST_SIDE = 65_536
"""Maximum coordinate of a lettering box, and maximum height of a capital, in pixels."""

Box = str | int | tuple[int, int, int, int]
"""A lettering box: `automatic`; the number of a UV island in the output of `meshqc fit`; or the left, top, right and
bottom edges, in pixels from the top left corner of the base map.
"""


@dataclass(frozen=True, slots=True)
class Version:
    """A caption version: one variant of a caption, such as its text in one language.

    Attributes:
        name: Name of the version. Its texture file has the same name.
        texts: The lines of text, from top to bottom.
        font: Path of the font file; None for the font that comes with this tool.
        weight: Weight of the font, 100 to 900; None makes the font that comes with this tool bold, and leaves the font
            of a font file as it is.
        colour: Colour of the letters: red, green and blue (sRGB), 0 to 255.
        outline: Colour of the outline around the letters; None for no outline.
        outline_width: Width of the outline, as a fraction of the height of a capital.
        align: Alignment of the lines: one of ALIGNMENTS.
        box: The lettering box.
        height: Height of a capital, in pixels of the base map; None for the largest height that fits.
        material: Displayed name of the lettering's material; None for the material of the texture fit.
        base: Path of the texture under the lettering; None for the material's colour map.
        opacity: Opacity of the letters and the outline, above 0 and at most 1.
        frames: First and last frame of the range in which the version has to be readable; None for all frames.
    """

    name: str
    texts: tuple[str, ...]
    font: Path | None = None
    weight: int | None = None
    colour: Colour = (255, 255, 255)
    outline: Colour | None = None
    outline_width: float = 0.1
    align: str = "centre"
    box: Box = "automatic"
    height: float | None = None
    material: str | None = None
    base: Path | None = None
    opacity: float = 1.0
    frames: tuple[Fraction, Fraction] | None = None


DEFAULTS = Version("", ())
"""A version with the default values of all optional keys."""


@dataclass(frozen=True, slots=True)
class _Key:
    """One key of a version.

    Attributes:
        read: Converts a TOML value to a value of `Version`. Raises ValueError if the TOML value is not allowed.
        allowed: Description of the allowed values.
        cell: Converts the text of a CSV cell to a TOML value. Raises ValueError if the text can't be converted.
        allowed_cell: Description of the allowed texts of a CSV cell; empty if `allowed` also describes these texts.
    """

    read: Callable[[object], object]
    allowed: str
    cell: Callable[[str], object] = str
    allowed_cell: str = ""


def _text(value: object) -> str:
    if not isinstance(value, str) or not value:
        raise ValueError
    return value


def _version_name(value: object) -> str:
    """Return a name in Unicode normalization form NFC; raise ValueError if `_KEYS` doesn't allow it."""
    name = unicodedata.normalize("NFC", _text(value))
    if not re.fullmatch(r"\w[\w.-]{0,63}", name):
        raise ValueError
    return name


def _texts(value: object) -> tuple[str, ...]:
    lines = [value] if isinstance(value, str) else value
    if not isinstance(lines, list) or not 1 <= len(lines) <= _MOST_TEXTS:
        raise ValueError
    return tuple(_line(one) for one in lines)


def _line(value: object) -> str:
    text = unicodedata.normalize("NFC", _text(value)).strip()
    if not text or len(text) > _MOST_LETTERS:
        raise ValueError
    for letter in text:
        if unicodedata.category(letter)[0] == "C":
            raise ValueError(f"U+{ord(letter):04X} is not a printable character; remove it")
        if unicodedata.bidirectional(letter) in ("R", "AL"):
            raise ValueError(
                f"{safe(letter)} is written from right to left, which is not supported; draw the text in an image"
            )
        if unicodedata.category(letter)[0] == "M":
            raise ValueError(
                f"U+{ord(letter):04X} is a combining mark, which is not supported; draw the text in an image"
            )
    return text


def _colour(value: object) -> Colour:
    if not isinstance(value, str) or not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
        raise ValueError
    red, green, blue = bytes.fromhex(value[1:])
    return red, green, blue


def _number(low: float, high: float, value: object) -> float:
    """Return a number as a float; raise ValueError unless it is above `low` and at most `high`."""
    if not isinstance(value, int | float) or isinstance(value, bool) or not low < value <= high:
        raise ValueError
    return float(value)


def _weight(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 100 <= value <= 900:
        raise ValueError
    return value


def _align(value: object) -> str:
    if value not in ALIGNMENTS:
        raise ValueError
    return str(value)


def _box(value: object) -> Box:
    if value == "automatic":
        return "automatic"
    if isinstance(value, str) and (match := re.fullmatch(r"island (\d{1,9})", value, re.ASCII)):
        return int(match[1])
    if not isinstance(value, list) or len(value) != 4:
        raise ValueError
    if not all(isinstance(side, int) and not isinstance(side, bool) and 0 <= side <= _LONGEST_SIDE for side in value):
        raise ValueError
    left, top, right, bottom = value
    if left >= right or top >= bottom:
        raise ValueError("left must be less than right, and top less than bottom, in pixels from the top left corner")
    return left, top, right, bottom


def _frames(value: object) -> tuple[Fraction, Fraction]:
    return values.frame_range(_text(value))


def _cell_texts(cell: str) -> object:
    return cell.split("|")


def _cell_number(cell: str) -> object:
    number = float(cell)
    return int(number) if number.is_integer() else number


def _cell_box(cell: str) -> object:
    return [int(side) for side in cell.split()] if cell[:1].isdigit() else cell


FILES = ("font", "base")
"""Keys whose values are paths of files."""

_KEYS: Mapping[str, _Key] = {
    "name": _Key(
        _version_name,
        "a name of 1 to 64 letters, digits, underscores, dots and hyphens that does not start with a dot or hyphen",
    ),
    "texts": _Key(
        _texts,
        f"a line of text or a list of 1 to {_MOST_TEXTS} lines (1 to {_MOST_LETTERS} characters per line)",
        _cell_texts,
        f"1 to {_MOST_TEXTS} lines of text, separated by | (1 to {_MOST_LETTERS} characters per line)",
    ),
    "font": _Key(_text, "the path of a font file, relative to the captions file"),
    "weight": _Key(_weight, "a whole number from 100 to 900", _cell_number),
    "colour": _Key(_colour, 'a colour such as "#10233f"', allowed_cell="a colour such as #10233f"),
    "outline": _Key(_colour, 'a colour such as "#ffffff"', allowed_cell="a colour such as #ffffff"),
    "outline_width": _Key(
        partial(_number, 0.0, 1.0), "a number above 0 and at most 1 (a share of the height of a capital)", _cell_number
    ),
    "align": _Key(_align, "left, centre or right"),
    "box": _Key(
        _box,
        '"automatic", an island such as "island 2", or [left, top, right, bottom] in pixels of the base map',
        _cell_box,
        "automatic, an island such as island 2, or left, top, right and bottom in pixels of the base map (such as "
        "10 20 110 80)",
    ),
    "height": _Key(
        partial(_number, 0.0, _LONGEST_SIDE),
        f"a number above 0 and at most {_LONGEST_SIDE:,} (the height of a capital, in pixels of the base map)",
        _cell_number,
    ),
    "material": _Key(_text, "the name of a material"),
    "base": _Key(_text, "the path of a texture, relative to the captions file"),
    "opacity": _Key(partial(_number, 0.0, 1.0), "a number above 0 and at most 1", _cell_number),
    "frames": _Key(_frames, 'a frame range such as "1-40"', allowed_cell="a frame range such as 1-40"),
}
"""The keys of a version, and how their values are read."""

KEYS = tuple(_KEYS)


def allowed_text(key: str) -> str:
    """Return a description of the texts that a user may type as the value of a key, or write in a CSV cell."""
    return _KEYS[key].allowed_cell or _KEYS[key].allowed


def find_captions(folders: tuple[Path, ...], scope: Scope) -> Path | None:
    """Find the captions file in the first folder that contains one.

    Args:
        folders: The folders to search, in this order.
        scope: The folders that may be read.

    Returns:
        Path of the captions file, with all links resolved; None if there is none.

    Raises:
        MeshqcError: The captions file is a link that leads outside the folders that may be read.
    """
    for folder in folders:
        found = scope.exact(folder, FILE_NAME.encode())
        if found is not None:
            return scope.place(found)
        if os.path.lexists(folder / FILE_NAME) and scope.leads_outside(folder, FILE_NAME.encode()):
            raise MeshqcError(
                f"{Name.from_path(folder / FILE_NAME)} is a link to a file outside the inspected folder and the "
                "--textures folders; replace the link with the file, or add the folder of the file with --textures DIR"
            )
    return None


def read_captions(file: Path, scope: Scope) -> tuple[Version, ...]:
    """Read the versions in a captions file.

    Args:
        file: Path of the file, with all links resolved, inside the folders that may be read. It is read as CSV if its
            name ends in `.csv`, otherwise as TOML.
        scope: The folders from which fonts and base maps may be read.

    Raises:
        MeshqcError: The file can't be read, or contains a mistake. The message names the file and, as far as possible,
            the line, the key and the allowed values.
    """
    is_csv = file.suffix.lower() == ".csv"
    reading = _CaptionsReading(Name.from_path(file), _content(file), file.parent, scope, in_cells=is_csv)
    tables = reading.csv_rows() if is_csv else reading.toml_tables()
    versions = tuple(reading.version(number, table) for number, table in enumerate(tables))
    if not 1 <= len(versions) <= _MOST_VERSIONS:
        raise MeshqcError(f"{reading.name}: the file has {len(versions):,} versions; 1 to {_MOST_VERSIONS} are allowed")
    names = [version.name.casefold() for version in versions]
    for number, name in enumerate(names):
        if name in names[:number]:
            reading.refuse(
                number,
                "name",
                f"another version already has the name {versions[number].name} (case is ignored)",
            )
    return versions


def with_typed(version: Version, key: str, text: str, folder: Path, scope: Scope) -> Version:
    """Return a version with one key changed to a value that the user typed.

    Args:
        version: The version.
        key: One of KEYS.
        text: The typed text, in the format of a CSV cell. Blank text, which is not allowed for `name` and `texts`, sets
            the key to its default.
        folder: Folder to which paths are relative.
        scope: The folders from which fonts and base maps may be read.

    Raises:
        MeshqcError: The text is not allowed for this key. The message gives the reason or the allowed values.
    """
    reading = _CaptionsReading(None, "", folder, scope, in_cells=True)
    if not text.strip():
        if key in ("name", "texts"):
            reading.refuse(None, key, "a value is required")
        return replace(version, **{key: getattr(DEFAULTS, key)})
    return replace(version, **{key: reading.typed(key, text.strip())})  # type: ignore[arg-type]


def _content(file: Path) -> str:
    name = Name.from_path(file)
    try:
        with os.fdopen(open_place(file), "rb") as stream:
            data = stream.read(_FILE_BYTES + 1)
    except OSError as error:
        raise MeshqcError(f"{name}: the captions file can't be read ({error.strerror})") from error
    if len(data) > _FILE_BYTES:
        raise MeshqcError(f"{name}: the file has more than {_FILE_BYTES:,} bytes, too many for a captions file")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise MeshqcError(f"{name}, line {line}: not UTF-8 text; save the file as UTF-8") from error


@dataclass
class _CaptionsReading:
    """Reads one captions file, or one typed value.

    Attributes:
        name: Name of the file; None for a typed value.
        text: Content of the file; empty for a typed value.
        folder: Folder to which paths are relative.
        scope: The folders from which fonts and base maps may be read.
        in_cells: Whether the values are typed texts or CSV cells rather than TOML values.
        lines: The line on which each version begins; empty if not known.
    """

    name: Name | None
    text: str
    folder: Path
    scope: Scope
    in_cells: bool
    lines: tuple[int, ...] = ()

    def toml_tables(self) -> list[dict[str, object]]:
        """Read the file as TOML.

        Returns:
            The keys and TOML values of each version. Missing keys are taken from the table `[defaults]`.

        Raises:
            MeshqcError: The file is not valid TOML, or it contains a table, a key or a default value that is not
                allowed.
        """
        table = toml_table(self.text, self.name, "captions file")
        for key in table:
            if key not in ("defaults", "version"):
                self.refuse(
                    None,
                    key,
                    "not allowed here; a captions file has only the tables [defaults] and [[version]]",
                    ("defaults", "version"),
                )
        defaults, versions = table.get("defaults", {}), table.get("version", [])
        if not isinstance(defaults, dict):
            self.refuse(None, "defaults", "expected a table with the heading [defaults]")
        if not isinstance(versions, list) or not all(isinstance(one, dict) for one in versions):
            self.refuse(None, "version", "expected tables with the heading [[version]]")
        if "name" in defaults:
            self.refuse(None, "name", "can't be a default, because each version needs a different name")
        heads = [at for at, line in enumerate(self.text.splitlines(), 1) if re.match(r"\s*\[\[\s*version", line)]
        self.lines = tuple(heads) if len(heads) == len(versions) else ()
        for key, value in defaults.items():
            self._value(None, key, value)
        return [defaults | one for one in versions]

    def csv_rows(self) -> list[dict[str, object]]:
        """Read the file as CSV.

        Returns:
            The cells of each row after the header, by column name. Blank cells and blank rows are left out.

        Raises:
            MeshqcError: The file is not valid CSV, a row has too many cells, or a column is not allowed.
        """
        reader = csv.reader(io.StringIO(self.text, newline=""), strict=True)
        rows, lines = [], []
        try:
            start = 1
            for row in reader:
                if any(cell.strip() for cell in row):
                    rows.append(row)
                    lines.append(start)
                start = reader.line_num + 1
        except csv.Error as error:
            raise MeshqcError(f"{self.name}, line {reader.line_num}: not valid CSV: {safe(str(error))}") from error
        if not rows:
            return []
        keys = [cell.strip() for cell in rows[0]]
        for key in keys:
            if key not in _KEYS or keys.count(key) > 1:
                why = "given more than once" if key in _KEYS else f"no such column; the columns are {', '.join(_KEYS)}"
                raise MeshqcError(f"{self.name}, line {lines[0]}: {safe(key)}: {why}")
        self.lines = tuple(lines[1:])
        tables = []
        for number, row in enumerate(rows[1:]):
            if len(row) > len(keys):
                self.refuse(number, "", f"the row has {len(row)} cells, but the first row has only {len(keys)}")
            table: dict[str, object] = {key: cell.strip() for key, cell in zip(keys, row, strict=False) if cell.strip()}
            tables.append(table)
        return tables

    def typed(self, key: str, text: str) -> object:
        """Convert the text that a user typed for a key to a value of `Version`.

        Args:
            key: One of KEYS.
            text: The text, in the format of a CSV cell.

        Raises:
            MeshqcError: The text is not allowed for this key.
        """
        value = self._value(None, key, text)
        return self._file(None, key, str(value)) if key in FILES else value

    def version(self, number: int, table: dict[str, object]) -> Version:
        """Convert the keys and values of one version to a `Version`.

        Args:
            number: Index of the version in the file.
            table: The keys of the version, and their TOML values or CSV cells.

        Raises:
            MeshqcError: A key is missing or unknown, a value is not allowed, or a font or base map doesn't exist or may
                not be read.
        """
        for key in table:
            self._refuse_unknown(number, key)
        for key in ("name", "texts"):
            if key not in table:
                self.refuse(number, key, "a value is required")
        read = {key: self._value(number, key, value) for key, value in table.items()}
        for key in FILES:
            if key in read:
                read[key] = self._file(number, key, str(read[key]))
        return Version(**read)  # type: ignore[arg-type]

    def _refuse_unknown(self, number: int | None, key: str) -> None:
        if key not in _KEYS:
            self.refuse(number, key, f"no such key; the keys are {', '.join(_KEYS)}", tuple(_KEYS))

    def _value(self, number: int | None, key: str, value: object) -> object:
        self._refuse_unknown(number, key)
        if self.in_cells:
            return self._cell(number, key, str(value))
        try:
            return _KEYS[key].read(value)
        except ValueError as error:
            self.refuse(number, key, str(error) or f"expected {_KEYS[key].allowed}, but got {value!r}")

    def _cell(self, number: int | None, key: str, cell: str) -> object:
        problem = f"expected {allowed_text(key)}, but got {cell}"
        try:
            value = _KEYS[key].cell(cell)
        except (ValueError, OverflowError):
            self.refuse(number, key, problem)
        try:
            return _KEYS[key].read(value)
        except ValueError as error:
            self.refuse(number, key, str(error) or problem)

    def _file(self, number: int | None, key: str, written: str) -> Path:
        raw = os.fsencode(written.replace("\\", "/"))
        found = self.scope.exact(self.folder, raw)
        if found is None and (b"\0" in raw or self.scope.leads_outside(self.folder, raw)):
            self.refuse(
                number,
                key,
                f"{written} is outside the inspected folder and the --textures folders; add its folder with "
                "--textures DIR",
            )
        if found is None:
            self.refuse(number, key, f"{written} does not exist, or is not a file")
        return found

    def refuse(self, number: int | None, key: str, problem: str, known: tuple[str, ...] = ()) -> NoReturn:
        """Raise an error about a key or its value.

        Args:
            number: Index of the version in the file; None for a typed value, or if the key is not in a version.
            key: The key; empty for a whole row.
            problem: The problem with the key or its value.
            known: The valid keys, from which the message suggests one that is similar to `key`.

        Raises:
            MeshqcError: Always.
        """
        near = get_close_matches(key, known, n=1)
        hint = f" (nearest: {near[0]})" if near else ""
        line = self._line(number, key)
        place = f", line {line}" if line else ""
        owner = "" if number is None else f"version {number + 1}"
        source = "" if self.name is None else f"{self.name}{place}"
        what = ": ".join(part for part in (source, safe(owner), safe(key)) if part)
        raise MeshqcError(f"{what}: {safe(problem)}{hint}")

    def _line(self, number: int | None, key: str) -> int | None:
        """Find the line of a key.

        Args:
            number: Index of the version; None to search the whole file.
            key: The key.

        Returns:
            The number, from 1, of the line that begins with the key. In a CSV file, or if there is no such line, the
            number of the version's first line. None if neither is known.
        """
        if self.in_cells:
            return None if number is None else self.lines[number]
        lines = self.text.splitlines()
        first = 1 if number is None else self.lines[number] if self.lines else None
        if first is None:
            return None
        ends = [line for line in self.lines if line > first]
        for at in range(first, (ends[0] if ends else len(lines) + 1)):
            if re.match(rf"\s*[\"'\[]?{re.escape(key)}\b", lines[at - 1]):
                return at
        return None if number is None else first
