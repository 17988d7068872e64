"""Plain decimal numbers as people and spreadsheets write them, read exactly.

Python's own ``float`` must not see raw text: it takes ``1_000``, ``nan``, ``inf``, ``1e400`` and digits of
other scripts without a word.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction

from gradework.errors import sentence, visible

# The characters phones, word processors and spreadsheets put into numbers, turned into plain ones.
#
# Only these are touched: dashes that stand for a minus, curly and prime quotes, no-break and zero-width
# spaces, built-up fractions. Everything else stays as written, so that the grammar can refuse it.

_MINUS = "\u2212\u2010\u2011\u2012\u2013"  # minus sign, hyphen, no-break hyphen, figure dash, en dash
_FEET = "\u2018\u2019\u2032\u02b9\u00b4`"  # single curly quotes, prime, acute and grave accents
_INCHES = "\u201c\u201d\u2033\u02ba"  # double curly quotes, double prime
_SPACES = "\u00a0\u202f\u2007\u2009\t"  # no-break, narrow no-break, figure and thin space, tab
_INVISIBLE = "\u200b\u200c\u200d\u2060\ufeff\u200e\u200f"  # zero-width spaces and joiners, direction marks
_FRACTIONS = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8",
    "⅞": "7/8", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6",
}  # fmt: skip

_PLAIN: dict[int, str] = {
    **{ord(c): "-" for c in _MINUS},
    **{ord(c): "'" for c in _FEET},
    **{ord(c): '"' for c in _INCHES},
    **{ord(c): " " for c in _SPACES},
    **{ord(c): "" for c in _INVISIBLE},
    **{ord(c): f" {fraction}" for c, fraction in _FRACTIONS.items()},
    0x2044: "/",  # fraction slash
}


def plain(text: str) -> str:
    """Return ``text`` with plain dashes, quotes, spaces and fractions, and no outer or double spaces.

    >>> plain("5\u2019\u00a03½\u201d")
    '5\\' 3 1/2"'
    """
    if not text.isascii() or "\t" in text or "`" in text:
        text = text.translate(_PLAIN)
    text = text.replace("''", '"')
    return " ".join(text.split())


# Why a piece of text is refused as a quantity: what was found, what was expected, how to fix it.

SHEET_ERROR = (
    r"(?i)#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NUM!|NULL!|SPILL!|CALC!|ERROR!|FIELD!|BLOCKED!|CONNECT!|"
    r"UNKNOWN!|BUSY!)"
)
"""What spreadsheets write into a cell in place of a value that they cannot work out."""

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = rf"(?P<month>{'|'.join(f'{m}[a-z]*' for m in _MONTHS)})"
_CAUSES = (
    ("nothing", r""),
    ("no-value", r"(?i)-{1,3}|—|n/?a|none|null|nil|\?{1,3}"),
    ("sheet-error", rf"{SHEET_ERROR}|##+"),
    ("formula", r"=.*"),
    ("date", r"[0-9]{1,2}[-/.][0-9]{1,2}[-/.][0-9]{4}|[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}"),
    ("day-month", rf"(?i)(?P<day>[0-9]{{1,2}})[-/ .]{_MONTH}\.?(?:[-/ ,.]+[0-9]{{2,4}})?"),
    ("day-month", rf"(?i){_MONTH}\.?[-/ .](?P<day>[0-9]{{1,4}})(?:[-/ ,.]+[0-9]{{2,4}})?"),
    ("not-finite", r"(?i)[-+]?(?:nan|inf|infinity)"),
    ("other-digits", r".*(?:(?![0-9])\d|[²³¹⁰⁴-⁹₀-₉]).*"),
    ("underscore", r".*_.*"),
    ("size", r"[-+]?[0-9.]+[eE][-+]?[0-9]+"),
    ("brackets", r"\(.*\)"),
    ("comma-or-thousands", r"[-+]?[0-9]{1,3}(?:,[0-9]{3})"),
    ("comma", r"[-+]?[0-9]*,[0-9]+(?: ?[a-zA-Z]+)?"),
    ("two-points", r"[-+]?[0-9]*(?:\.[0-9]*){2,}"),
    ("space", r"[-+]?[0-9]+(?: [0-9]+)*(?: ?\.[0-9]*| [0-9]+)"),
)
"""What refused text looks like, and its cause in the messages; the first that fits is told."""


class QuantityError(ValueError):
    """Text that is not the quantity asked for.

    ``found`` quotes the text with its likely cause, ``expected`` says what would do, ``fix`` what to do.
    ``cause`` names the wording and ``likely`` holds its values, where ``refused`` made it.
    """

    def __init__(
        self, found: str, expected: str, fix: str, cause: str = "", likely: Mapping[str, object] | None = None
    ) -> None:
        self.found = found
        self.expected = expected
        self.fix = fix
        self.cause = cause
        self.likely = likely or {}
        super().__init__(f"{found}; expected {expected} - {fix}")


class LengthError(QuantityError):
    """Text that is not a length."""


def refused(asked: str, text: str, cause: str, **likely: object) -> QuantityError:
    """Word why ``text`` is not what was ``asked``, by the templates of ``quantity-unreadable``.

    ``expected-ASKED`` says what would do, ``found-CAUSE`` and ``do-CAUSE`` the rest; ``likely`` are values.
    """

    def told(part: str) -> str:
        return sentence("quantity-unreadable", part, dialect="us", text=quoted(text), **likely)

    return QuantityError(
        told(f"found-{cause}"), told(f"expected-{asked}"), told(f"do-{cause}"), cause, likely
    )


def quoted(text: str) -> str:
    """Quote user text for a message: control characters as escapes, at most 40 letters.

    >>> quoted("2-Jan")
    "'2-Jan'"
    """
    return f"'{visible(text.strip())}'"


def explained(asked: str, text: str) -> QuantityError:
    """Refuse ``text``, which ``plain`` has tidied, for what it looks like.

    >>> explained("number", "98,72").fix
    'if 98.72 is meant, write it with a point'
    """
    cause, likely = cause_of(text)
    return refused(asked, text, cause, **likely)


def cause_of(text: str) -> tuple[str, dict[str, object]]:
    """What refused text looks like: the cause by its name in the messages, and the likely readings."""
    for cause, pattern in _CAUSES:
        match = re.fullmatch(pattern, text)
        if match is None:
            continue
        likely: dict[str, object] = {
            "point": text.replace(",", "."),
            "whole": text.replace(",", ""),
            "joined": text.replace(" ", ""),
            "inside": text[1:-1].strip(),
        }
        if cause == "day-month":  # a spreadsheet made it of 1/2 or 1-2
            likely["month"] = _MONTHS.index(match["month"][:3].lower()) + 1
            likely["day"] = int(match["day"])
        elif cause == "two-points":
            likely["readings"] = _one_point_left(text)
        return cause, likely
    return "other", {}


def _one_point_left(text: str) -> str:
    """The readings of a number with too many points: the first, the last or the only one that can stay."""
    points = text.count(".")
    first, _, rest = text.partition(".")
    near, far = f"{first}.{rest.replace('.', '')}", text[::-1].replace(".", "", points - 1)[::-1]
    last = text.replace(".", "", points - 1)
    return " or ".join(dict.fromkeys((near, last, far)))


LONGEST = 300
"""Text longer than this is no number a person wrote."""

_DECIMAL = r"([-+]?) ?(?:([0-9]+)(?:\.([0-9]*))?|\.([0-9]+))(?:[eE]([-+]?[0-9]{1,3}))?"
_GROUPED = r"[-+]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?"


def parse_number(text: str, *, decimal_comma: bool = False, grouped: bool = False) -> Fraction:
    """Read a plain decimal number exactly.

    Taken: ``98.72``, ``-.5``, ``+3``, ``1.5e-3``, ``1,234.56`` and ``1,234,567`` (thousands that can mean
    nothing else). With ``decimal_comma`` the comma and the point change places. ``1,234`` alone may be
    one and a bit or a thousand and more: refused unless ``grouped`` says that commas group.

    >>> parse_number("−98.72")
    Fraction(-2468, 25)
    >>> parse_number("98,72", decimal_comma=True)
    Fraction(2468, 25)

    Raises
    ------
    QuantityError
        for anything else, with the likely reading.
    """
    tidy = plain(text)
    if len(tidy) > LONGEST:
        raise refused("number", tidy, "long", count=len(tidy))
    swapped = tidy.translate(_SWAP) if decimal_comma else tidy
    value = _decimal(swapped)
    if (
        value is None
        and re.fullmatch(_GROUPED, swapped)
        and (grouped or "." in swapped or swapped.count(",") > 1)
    ):
        value = _decimal(swapped.replace(",", ""))
    if value is None:
        raise _not_with_commas(tidy) if decimal_comma else explained("number", tidy)
    return value


_SWAP = {ord(","): ".", ord("."): ","}


def _decimal(text: str) -> Fraction | None:
    match = re.fullmatch(_DECIMAL, text)
    if match is None:
        return None
    sign, whole, part, only_part, exponent = match.groups()
    part = only_part or part or ""
    value = Fraction(int((whole or "") + part), 10 ** len(part))
    if exponent:
        value *= Fraction(10) ** int(exponent)
    return -value if sign == "-" else value


def _not_with_commas(tidy: str) -> QuantityError:
    """Refuse a number in a file of decimal commas."""
    if re.fullmatch(r"[-+]?[0-9]+\.[0-9]+", tidy) is None:
        return explained("number-comma", tidy)
    grouped = re.fullmatch(_GROUPED, tidy.translate(_SWAP)) is not None
    cause = "point-or-thousands" if grouped else "point"
    return refused("number-comma", tidy, cause, comma=tidy.replace(".", ","), whole=tidy.replace(".", ""))


def round_steps(length: float, most: int = 5) -> float:
    """Choose a round step (1, 2 or 5 times a power of ten) that divides ``length`` into at most ``most``.

    >>> round_steps(23, 5), round_steps(0.9, 5)
    (5.0, 0.2)
    """
    rough = length / most
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1.0, 2.0, 5.0, 10.0):
        step = float(f"{factor * power:.12g}")
        if step >= rough * (1 - 1e-9):
            return step
    return 10.0 * power  # pragma: no cover - ten powers exceed any rough step
