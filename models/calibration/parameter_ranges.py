"""What the parameters of the mixed regressor may be."""

import math
from collections.abc import Callable, Collection, Mapping
from numbers import Integral, Real
from typing import Any

import numpy as np

Parameters = Mapping[str, Any]

SHRUNKEN = "columns"
MAX_DRAWS = 1024


def faults(parameters: Parameters, feature_count: int) -> list[str]:
    """One sentence for every parameter out of its range, given the number of columns of X."""
    return [
        f"{name} must be {allowed}; got {parameters[name]!r}"
        for name, (allowed, holds) in RANGES.items()
        if not holds(parameters, feature_count)
    ]


def group_component_names(group_slopes: Collection[int]) -> list[str]:
    """Names of the variance components of the groups: the intercept, then the slopes."""
    return ["group", *(f"group slope {j}" for j in group_slopes)]


def _are_columns(value: Any, feature_count: int) -> bool:
    try:
        columns = list(value)
    except TypeError:
        return False
    whole = all(isinstance(j, Integral) and not isinstance(j, bool) for j in columns)
    return whole and len(set(columns)) == len(columns) and all(0 <= j < feature_count for j in columns)


def _are_pairs(value: Any, first_positive: bool) -> bool:
    """A mapping to (location, scale) with a finite location and a positive finite scale."""
    if not isinstance(value, Mapping):
        return False
    for pair in value.values():
        if len(pair) != 2 or not all(isinstance(number, Real) and math.isfinite(number) for number in pair):
            return False
        if pair[1] <= 0 or (first_positive and pair[0] <= 0):
            return False
    return True


def _in_blocks(parameters: Parameters) -> list[Any]:
    blocks = parameters["blocks"]
    return [j for block in blocks.values() for j in block] if isinstance(blocks, Mapping) else []


def _blocks(parameters: Parameters, feature_count: int) -> bool:
    blocks = parameters["blocks"]
    if blocks is None:
        return True
    return isinstance(blocks, Mapping) and _are_columns(_in_blocks(parameters), feature_count)


def _component_names(parameters: Parameters) -> set[str]:
    blocks = parameters["blocks"]
    names = {SHRUNKEN} if blocks is None else set(blocks)
    if parameters["groups_column"] is not None:
        names.update(group_component_names(parameters["group_slopes"]))
    return names


def _names_differ(parameters: Parameters) -> bool:
    blocks = parameters["blocks"] or {}
    taken = {"residual"}
    if parameters["groups_column"] is not None:
        taken.update(group_component_names(parameters["group_slopes"]))
    return not taken & set(blocks)


def _priors(parameters: Parameters, feature_count: int) -> bool:
    priors = parameters["priors"]
    if priors is None:
        return True
    if parameters["blocks"] is None or not _are_pairs(priors, first_positive=False):
        return not priors
    not_fixed = {*_in_blocks(parameters), parameters["groups_column"]}
    return _are_columns(priors, feature_count) and not not_fixed & set(priors)


def _sd_priors(parameters: Parameters, feature_count: int) -> bool:
    priors = parameters["sd_priors"]
    if priors is None:
        return True
    return _are_pairs(priors, first_positive=True) and set(priors) <= {
        "residual",
        *_component_names(parameters),
    }


def _groups_column(parameters: Parameters, feature_count: int) -> bool:
    column = parameters["groups_column"]
    return column is None or (_are_columns([column], feature_count) and column not in _in_blocks(parameters))


def _group_slopes(parameters: Parameters, feature_count: int) -> bool:
    slopes, column = parameters["group_slopes"], parameters["groups_column"]
    return (
        _are_columns(slopes, feature_count)
        and column not in slopes
        and (column is not None or not len(slopes))
    )


def _draws(parameters: Parameters, feature_count: int) -> bool:
    draws = parameters["draws"]
    return isinstance(draws, int | np.integer) and int(draws) in range(0, MAX_DRAWS + 1, 2)


RANGES: Mapping[str, tuple[str, Callable[[Parameters, int], bool]]] = {
    "blocks": (
        "None or a mapping from names to disjoint lists of columns of X, no name taken by another component",
        lambda parameters, count: _blocks(parameters, count) and _names_differ(parameters),
    ),
    "fit_intercept": ("True or False", lambda parameters, _: parameters["fit_intercept"] in (True, False)),
    "criterion": ('"reml" or "ml"', lambda parameters, _: parameters["criterion"] in ("reml", "ml")),
    "groups_column": ("None or a column of X outside of every block", _groups_column),
    "group_slopes": ("columns of X other than the groups column, empty without one", _group_slopes),
    "priors": ("None or, with blocks given, a mapping from fixed columns to (mean, sd > 0)", _priors),
    "sd_priors": ("None or a mapping from names of components to (median > 0, log_sd > 0)", _sd_priors),
    "draws": (f"an even whole number from 0 to {MAX_DRAWS}", _draws),
}
