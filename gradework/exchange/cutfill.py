"""Plain cut and fill as a JSON document, always SI."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.findings import finding_records, sure

if TYPE_CHECKING:
    from gradework.project.plain import PlainCutFill


def cutfill_record(result: PlainCutFill) -> dict[str, Any]:
    """Write one level as one flat document; several as a list of such documents under ``levels``.

    Keys: level_m, area_m2, cut_m3, fill_m3, net_m3 (cut less fill), cut_area_m2, fill_area_m2, doubt_m3
    (how far cut, fill or net may be off because the shots do not say how squares fold), findings.
    """
    findings = finding_records(result.findings)
    documents = [
        {
            "level_m": sure(answer.level),
            "area_m2": sure(answer.area),
            "cut_m3": sure(answer.cut),
            "fill_m3": sure(answer.fill),
            "net_m3": sure(answer.net),
            "cut_area_m2": sure(answer.cut_area),
            "fill_area_m2": sure(answer.fill_area),
            "doubt_m3": sure(answer.doubt),
            "findings": findings,
        }
        for answer in result.answers
    ]
    return documents[0] if len(documents) == 1 else {"levels": documents, "findings": findings}
