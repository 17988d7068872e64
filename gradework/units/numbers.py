"""Plain decimal numbers as people and spreadsheets write them, read exactly.

Python's own ``float`` must not see raw text: it takes ``1_000``, ``nan``, ``inf``, ``1e400`` and digits of
other scripts without a word.
"""

from __future__ import annotations

import re
from fractions import Fraction

from gradework.errors import visible

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

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = "|".join(f"{m}[a-z]*" for m in _MONTHS)
_DAY_MONTH = rf"(?i)([0-9]{{1,2}})[-/ .]({_MONTH})\.?(?:[-/ ,.]+[0-9]{{2,4}})?"
_MONTH_DAY = rf"(?i)({_MONTH})\.?[-/ .]([0-9]{{1,4}})(?:[-/ ,.]+[0-9]{{2,4}})?"
_FULL_DATE = r"[0-9]{1,2}[-/.][0-9]{1,2}[-/.][0-9]{4}|[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}"
_SHEET_ERROR = r"(?i)#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NUM!|NULL!|SPILL!|CALC!|#+)"
_NOT_FINITE = r"(?i)[-+]?(?:nan|inf|infinity)"
_EMPTY_WORDS = frozenset({"-", "--", "---", "—", "n/a", "na", "none", "null", "nil", "?", "??", "???"})
_EXPONENT = r"[-+]?[0-9.]+[eE][-+]?[0-9]+"


class QuantityError(ValueError):
    """Text that is not the quantity asked for.

    ``found`` quotes the text with its likely cause, ``expected`` says what would do, ``fix`` what to do.
    """

    def __init__(self, found: str, expected: str, fix: str) -> None:
        self.found = found
        self.expected = expected
        self.fix = fix
        super().__init__(f"{found}; expected {expected} - {fix}")


class LengthError(QuantityError):
    """Text that is not a length."""


def quoted(text: str) -> str:
    """Quote user text for a message: control characters as escapes, at most 40 letters.

    >>> quoted("2-Jan")
    "'2-Jan'"
    """
    return f"'{visible(text.strip())}'"


def explain(text: str) -> tuple[str, str]:
    """Say what refused text looks like and how to fix it: ``(found, fix)``.

    ``text`` has had its dashes, quotes and spaces normalised already (``characters.plain``).

    >>> explain("#REF!")
    ("'#REF!', an error of the spreadsheet", 'fix the formula in the spreadsheet and save the file again')
    """
    for cause in (_nothing_there, _sheet_error, _date, _not_plain_digits, _number_slip):
        answer = cause(text)
        if answer is not None:
            return answer
    return quoted(text), "write it in that form"


def _nothing_there(text: str) -> tuple[str, str] | None:
    if not text:
        return "nothing", "fill it in, or delete the whole row"
    if text.lower() in _EMPTY_WORDS:
        return f"{quoted(text)}, no value", "fill it in, or delete the whole row"
    return None


def _sheet_error(text: str) -> tuple[str, str] | None:
    if re.fullmatch(_SHEET_ERROR, text):
        return (
            f"{quoted(text)}, an error of the spreadsheet",
            "fix the formula in the spreadsheet and save the file again",
        )
    if text.startswith("="):
        return f"{quoted(text)}, a formula", "save the values, not the formulas, from the spreadsheet"
    return None


def _date(text: str) -> tuple[str, str] | None:
    if re.fullmatch(_FULL_DATE, text):
        typed = ""
    elif match := re.fullmatch(_DAY_MONTH, text):
        typed = _typed(match[2], match[1])
    elif match := re.fullmatch(_MONTH_DAY, text):
        typed = _typed(match[1], match[2])
    else:
        return None
    return (
        f"{quoted(text)}, a date",
        f"the spreadsheet turned what was typed{typed} into a date: format the column as text, type it again",
    )


def _typed(month: str, day: str) -> str:
    number = _MONTHS.index(month[:3].lower()) + 1
    return f" (likely {number}/{int(day)} or {number}-{int(day)})"


def _not_plain_digits(text: str) -> tuple[str, str] | None:
    if re.fullmatch(_NOT_FINITE, text):
        return f"{quoted(text)}, not a number", "fill in the value, or delete the whole row"
    if any(c.isdigit() and not c.isascii() for c in text):
        return f"{quoted(text)}, with digits other than 0 to 9", "write it with the digits 0 to 9"
    if "_" in text:
        return f"{quoted(text)}, with an underscore", "write it without the underscore"
    if re.fullmatch(_EXPONENT, text):
        return f"{quoted(text)}, too large or too small", "write it out, and check the digits"
    if text.startswith("(") and text.endswith(")"):
        inside = text[1:-1].strip()
        return f"{quoted(text)}, in brackets", f"write -{inside} for minus, {inside} for a doubtful reading"
    return None


def _number_slip(text: str) -> tuple[str, str] | None:
    if re.fullmatch(r"[-+]?[0-9]{1,3}(?:,[0-9]{3})", text):
        point, whole = text.replace(",", "."), text.replace(",", "")
        return (
            f"{quoted(text)}, which may be {point} or {whole}",
            f"write {point} or {whole}, or say which decimal mark the file uses",
        )
    if re.fullmatch(r"[-+]?[0-9]*,[0-9]+(?: ?[a-zA-Z]+)?", text):
        return f"{quoted(text)}, with a comma", f"if {text.replace(',', '.')} is meant, write it with a point"
    if re.fullmatch(r"[-+]?[0-9]*(?:\.[0-9]*){2,}", text):
        first, _, rest = text.partition(".")
        near, far = f"{first}.{rest.replace('.', '')}", text[::-1].replace(".", "", text.count(".") - 1)[::-1]
        return f"{quoted(text)}, with two decimal points", f"likely {_readings(near, text, far)}"
    if re.fullmatch(r"[-+]?[0-9]+(?: [0-9]+)*(?: ?\.[0-9]*| [0-9]+)", text):
        return (
            f"{quoted(text)}, with a space inside",
            f"likely {text.replace(' ', '')}: write it without the space",
        )
    return None


def _readings(near: str, text: str, far: str) -> str:
    joined = text.replace(".", "", text.count(".") - 1)
    choices = dict.fromkeys((near, joined if joined.count(".") == 1 else near, far))
    return " or ".join(choices)


def shown(value: Fraction, digits: int = 4) -> str:
    """Show an exact number in a message with at most ``digits`` decimals.

    >>> shown(Fraction(7, 2))
    '3.5'
    """
    return f"{float(value):.{digits}f}".rstrip("0").rstrip(".")


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
        raise QuantityError(f"{len(tidy)} characters ({quoted(tidy)})", "a number", "check this cell")
    swapped = tidy.translate(_SWAP) if decimal_comma else tidy
    value = _decimal(swapped)
    if (
        value is None
        and re.fullmatch(_GROUPED, swapped)
        and (grouped or "." in swapped or swapped.count(",") > 1)
    ):
        value = _decimal(swapped.replace(",", ""))
    if value is None:
        found, fix = _explained(tidy, decimal_comma)
        raise QuantityError(
            found, "a number such as 98,72" if decimal_comma else "a number such as 98.72", fix
        )
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


def _explained(tidy: str, decimal_comma: bool) -> tuple[str, str]:
    if decimal_comma and re.fullmatch(r"[-+]?[0-9]+\.[0-9]+", tidy):
        comma, whole = tidy.replace(".", ","), tidy.replace(".", "")
        if re.fullmatch(_GROUPED, tidy.translate(_SWAP)):
            return f"{quoted(tidy)}, which may be {comma} or {whole}", f"write {comma} or {whole}"
        return (
            f"{quoted(tidy)}, with a point in a file of decimal commas",
            f"if {comma} is meant, write it so",
        )
    return explain(tidy)
