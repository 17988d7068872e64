"""Findings as plain dictionaries, the same in every JSON document."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from gradework.errors import CheckError, Finding


def finding_records(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Write findings with figures in SI; a figure that is not known is null."""
    return [
        {
            "code": finding.code,
            "severity": finding.severity,
            "where": finding.where,
            "value": known(finding.value),
            "limit": known(finding.limit),
            "advice": finding.advice,
        }
        for finding in findings
    ]


def sure(value: float) -> float:
    """Give a figure that every plan has as a plain float; raise ``CheckError`` unless it is finite.

    >>> sure(-0.0)
    0.0
    """
    if not math.isfinite(value):
        raise CheckError(f"a figure of the record is {value}")
    return float(value) + 0.0


def known(value: float | None) -> float | None:
    """Give a finite number as a plain float, anything else as None.

    >>> known(-0.0), known(float("nan")), known(None)
    (0.0, None, None)
    """
    if value is None or not math.isfinite(value):
        return None
    return float(value) + 0.0
