"""The characters phones, word processors and spreadsheets put into numbers, turned into plain ones.

Only these are touched: dashes that stand for a minus, curly and prime quotes, no-break and zero-width
spaces, built-up fractions. Everything else stays as written, so that the grammar can refuse it.
"""

from __future__ import annotations

_MINUS = "\u2212\u2010\u2011\u2012\u2013"  # minus sign, hyphen, no-break hyphen, figure dash, en dash
_FEET = "\u2018\u2019\u2032\u02b9\u00b4`"  # single curly quotes, prime, acute and grave accents
_INCHES = "\u201c\u201d\u2033\u02ba"  # double curly quotes, double prime
_SPACES = "\u00a0\u202f\u2007\u2009\t"  # no-break, narrow no-break, figure and thin space, tab
_NOTHING = "\u200b\u200c\u200d\u2060\ufeff\u200e\u200f"  # zero-width spaces and joiners, direction marks
_FRACTIONS = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8",
    "⅞": "7/8", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6",
}  # fmt: skip

_PLAIN: dict[int, str] = {
    **{ord(c): "-" for c in _MINUS},
    **{ord(c): "'" for c in _FEET},
    **{ord(c): '"' for c in _INCHES},
    **{ord(c): " " for c in _SPACES},
    **{ord(c): "" for c in _NOTHING},
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
