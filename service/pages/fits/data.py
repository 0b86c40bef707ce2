"""Stored fits and what is odd in them, as data of pages."""

from collections.abc import Mapping, Sequence
from typing import Any

from plaitlog.models.calibration.evidence import Kind
from plaitlog.service.pages.rendering import moment
from plaitlog.service.usecases.fitting import FitInList
from plaitlog.service.usecases.suspects import Standing


def fit_line(fit: FitInList) -> dict[str, Any]:
    """One stored fit in a list; errors as texts, empty where it was not tested."""
    return {
        "number": fit.number,
        "made": moment(fit.created_at),
        "readings": fit.readings,
        "whips": fit.whips,
        "cords": fit.cords,
        "new_whip": _error(fit, "whip"),
        "new_cord": _error(fit, "cord"),
        "current": fit.current,
        "stale": fit.stale,
        "added": fit.added,
    }


def _error(fit: FitInList, kind: Kind) -> str:
    trial = None if fit.evidence is None else fit.evidence.trial(kind)
    return "" if trial is None else f"{100 * trial.model.rmse_log:.1f} %"


def odd_rows(rows: Sequence[Mapping[str, Any]], standings: Sequence[Standing | None]) -> list[dict[str, Any]]:
    """Rows of odd readings, each with its number and version, and how it stands in words."""
    return [
        {
            **row,
            "key": None if one is None else one.key,
            "version": None if one is None else one.version,
            "decided": one is not None and one.decided,
            "doubtful": one is not None and one.doubtful,
        }
        for row, one in zip(rows, standings, strict=True)
    ]
