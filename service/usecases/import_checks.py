"""Whether what a file would make of the workshop can be true: refusals and findings, each at its line."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.plausibility import cord_findings, cord_refusals, whip_findings, whip_refusals
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.import_report import RowOutcome
from plaitlog.service.usecases.merging import Merged
from plaitlog.service.usecases.places import placed

_NUMBERED: Final = re.compile(r"(readings|ratings) ([0-9]+)(?:, )?")


@dataclass(slots=True)
class _Judgement:
    refused: list[Finding] = field(default_factory=list)
    remarked: list[Finding] = field(default_factory=list)


def judge(outcomes: list[RowOutcome], whips: Iterable[Merged], cords: Iterable[Cord]) -> None:
    """Check every whip and cord as a whole, and put what is found to the rows it comes from."""
    by_line: defaultdict[int, _Judgement] = defaultdict(_Judgement)
    for merged in whips:
        _judge_whip(merged, by_line)
    by_cord = {cord.name: _judged_cord(cord) for cord in cords}
    for i, outcome in enumerate(outcomes):
        if outcome.implied or outcome.outcome == "rejected":
            continue
        found = by_cord.get(outcome.name) if outcome.kind == "cord" else by_line.get(outcome.line)
        if found is None:
            continue
        if found.refused:
            outcomes[i] = replace(outcome, outcome="rejected", detail="", findings=tuple(found.refused))
        elif found.remarked:
            outcomes[i] = replace(outcome, findings=(*outcome.findings, *found.remarked))


def _judged_cord(cord: Cord) -> _Judgement:
    refused = list(cord_refusals(cord))
    return _Judgement(refused, [] if refused else list(cord_findings(cord)))


def _judge_whip(merged: Merged, by_line: defaultdict[int, _Judgement]) -> None:
    if merged.line is None and not merged.added and not merged.rating_lines:
        return
    whip = placed(merged.after)
    refused = list(whip_refusals(whip))
    for line, finding in _at_their_lines(refused, merged):
        by_line[line].refused.append(finding)
    if not refused:
        for line, finding in _at_their_lines(whip_findings(whip), merged):
            by_line[line].remarked.append(finding)


def _at_their_lines(findings: Iterable[Finding], merged: Merged) -> Iterator[tuple[int, Finding]]:
    """Findings with the line they belong to; what was in the workshop before is not brought up again."""
    kept = 0 if merged.before is None else len(merged.before.readings)
    for finding in findings:
        numbered = _NUMBERED.match(finding.where)
        if numbered is None:
            if merged.line is not None:
                yield merged.line, finding
            continue
        number, rest = int(numbered[2]) - 1, finding.where[numbered.end() :]
        if numbered[1] == "ratings":
            line = merged.rating_lines.get(number)
            if line is not None:
                yield line, replace(finding, where=rest)
        elif number >= kept:
            line, prefix = merged.origins[number - kept]
            yield line, replace(finding, where=", ".join(part for part in (prefix, rest) if part))
