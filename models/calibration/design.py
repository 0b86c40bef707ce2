"""Stacks to the columns of the regression.

The correction of a layer, eta = x'beta + z'u + s(g), is linear in the coefficients; a reading's row is the
sum of its layers' columns, each times d log D / d eta. Columns are named ``block:level``: features and kernel
centres stand in every layer, keyed columns (a cord, a cord in a role, a maker) where their level occurs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from plaitlog.models.calibration.packed import (
    ABSENT,
    FILLER,
    PARALLEL,
    PLAIT,
    Array,
    Index,
    PackedStacks,
)
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import ResolvedStacks, resolve
from plaitlog.models.calibration.smooth import USUAL_COVER, Smooth, fixed_points, with_diameters
from plaitlog.models.whip import UNSTATED_CONDITION

FEATURES: Final = (
    "core", "filler", "plait", "cover", "wall", "log diameter", "packing", "hollow", "solid", "first",
    "above", "bundle", "float", "softness", "measured",
)  # fmt: skip
KNOWN_SD: Final = {
    "material": "sd_material",
    "unweighed": "sd_unweighed",
    "condition": "sd_condition",
    "method": "sd_method",
    "inner": "sd_inner",
}
"""Keyed blocks whose standard deviation is a parameter; the others have a variance component."""
COMPONENTS: Final = ("cord", "cord_measured", "cord_role", "cord_count", "smooth", "maker")


def feature_priors(parameters: Parameters) -> tuple[Array, Array]:
    """Prior means and standard deviations of ``FEATURES``."""
    p = parameters
    sds = [
        p.sd_role, p.sd_role, p.sd_role, p.sd_cover, p.sd_wall, p.sd_log_diameter, p.sd_packing, p.sd_hollow,
        p.sd_solid, p.sd_first, p.sd_above, p.sd_bundle, p.sd_float, p.sd_softness, p.sd_measured,
    ]  # fmt: skip
    centred = {"softness": p.mean_softness, "packing": p.mean_packing}
    return np.array([centred.get(name, 0.0) for name in FEATURES]), np.array(sds)


@dataclass(frozen=True)
class Strands:
    """The layers in which strands run, as one list: m of them, in the order of row and layer.

    fixed (m, len(FEATURES)) : features that do not move with the diameters, zero for those that do.
    thickness (m,) : caliper diameter of the cord.
    """

    row: Index
    layer: Index
    plaited: NDArray[np.bool_]
    fixed: Array
    thickness: Array
    points: Array

    @staticmethod
    def of(packed: PackedStacks) -> "Strands":
        kind = packed.kind
        row, layer = np.nonzero((kind > ABSENT) & (kind <= PLAIT))
        plait = kind == PLAIT
        plaits_above = np.flip(np.cumsum(np.flip(plait, 1), 1), 1) - plait
        here = kind[row, layer]
        plaited = here == PLAIT
        count = np.log(np.maximum(packed.count[row, layer], 1.0) / 8)
        floats = packed.float_length[row, layer]
        columns: dict[str, Array] = {
            "core": (here == PARALLEL).astype(float),
            "filler": (here == FILLER).astype(float),
            "plait": plaited.astype(float),
            "log diameter": packed.log_diameter[row, layer] - np.log(4.0),
            "packing": packed.log_packing[row, layer] - np.log(0.46),
            "hollow": packed.hollow[row, layer],
            "solid": packed.solid[row, layer],
            "above": plaits_above[row, layer].astype(float),
            "bundle": np.where(plaited, 0.0, count),
            "float": np.where(plaited, np.log(np.where(floats > 0, floats, 2.0) / 2), 0.0),
            "softness": packed.softness[row, layer],
            "measured": packed.measured[row, layer],
        }
        fixed = np.zeros((len(row), len(FEATURES)))
        for name, values in columns.items():
            fixed[:, FEATURES.index(name)] = values
        return Strands(
            row,
            layer,
            plaited,
            fixed,
            np.exp(packed.log_diameter[row, layer]),
            fixed_points(packed, row, layer),
        )

    def features(self, resolved: ResolvedStacks, wall_offset: float) -> Array:
        """All features (m, len(FEATURES)) at these diameters."""
        at = (self.row, self.layer)
        features = self.fixed.copy()
        inner = resolved.inner[at]
        wall = np.log(resolved.mean[at] / (inner + wall_offset * self.thickness))
        features[:, FEATURES.index("cover")] = np.where(
            self.plaited, np.log(resolved.cover[at] / USUAL_COVER), 0.0
        )
        features[:, FEATURES.index("wall")] = np.where(self.plaited, wall, 0.0)
        features[:, FEATURES.index("first")] = self.plaited & (inner <= 0)
        return features

    def moved_points(self, resolved: ResolvedStacks) -> Array:
        """Coordinates (m, 6) of the layers for the smooth, at these diameters."""
        at = (self.row, self.layer)
        points = self.points.copy()
        return with_diameters(
            points,
            np.where(self.plaited, resolved.cover[at], USUAL_COVER),
            resolved.inner[at] / self.thickness,
        )


@dataclass(frozen=True)
class KeyedTerms:
    """Sparse columns. One entry each: row, layer (-1: on log D itself, times the pulled share or 1), name."""

    row: Index
    layer: Index
    key: Index
    value: Array
    names: tuple[str, ...]


def layer_terms(packed: PackedStacks) -> KeyedTerms:
    """Cord, cord in role, cord with strand count, material and guessed area of every strand group."""
    row, layer, cord, share = packed.group_row, packed.group_layer, packed.group_cord, packed.group_share
    plaited = packed.kind[row, layer] == PLAIT
    present = packed.kind[row, layer] != ABSENT
    row, layer, cord, share, plaited = (x[present] for x in (row, layer, cord, share, plaited))
    count = np.rint(packed.count[row, layer]).astype(np.intp)
    names: dict[str, int] = {}
    parts: list[tuple[Index, Index, Index, Array]] = []

    def add(codes: Index, labels: Sequence[str], keep: Array | None = None) -> None:
        numbers = np.array([names.setdefault(label, len(names)) for label in labels], dtype=np.intp)
        found = numbers[codes]
        if keep is None:
            parts.append((row, layer, found, share))
        else:
            chosen = np.flatnonzero(keep)
            parts.append((row[chosen], layer[chosen], found[chosen], share[chosen]))

    cords = packed.cords
    add(cord, [("cord_measured:" if c.measured else "cord:") + c.cord.name for c in cords])
    roles = [f"cord_role:{c.cord.name}|{role}" for c in cords for role in ("bundle", "plait")]
    add(cord * 2 + plaited, roles)
    pairs, codes = np.unique(np.stack([cord, count], axis=1), axis=0, return_inverse=True)
    counted = [f"cord_count:{cords[c].cord.name}|{n}" for c, n in pairs]
    add(codes.reshape(-1), counted, plaited.astype(float))
    add(cord, ["material:" + c.cord.material.strip().lower() for c in cords])
    unweighed = np.array([c.unweighed for c in cords], dtype=float)
    add(cord, ["unweighed:" + c.cord.name for c in cords], unweighed[cord] if len(cords) else np.zeros(0))
    return _joined(parts, tuple(names))


def row_terms(
    makers: Sequence[str | None],
    conditions: Sequence[str | None],
    methods: Sequence[str],
    inner: Sequence[bool],
) -> KeyedTerms:
    """Maker, condition (rolled where unstated), method and exposed inner layer of every row."""
    names: dict[str, int] = {}
    rows: list[int] = []
    keys: list[int] = []
    for row, (maker, condition, method, exposed) in enumerate(
        zip(makers, conditions, methods, inner, strict=True)
    ):
        found = [f"maker:{maker or ''}"]
        if condition not in (None, UNSTATED_CONDITION):
            found.append(f"condition:{condition}")
        if method != "caliper":
            found.append(f"method:{method}")
        if exposed:
            found.append("inner:exposed")
        for name in found:
            rows.append(row)
            keys.append(names.setdefault(name, len(names)))
    return KeyedTerms(
        np.array(rows, dtype=np.intp),
        np.full(len(rows), -1, dtype=np.intp),
        np.array(keys, dtype=np.intp),
        np.ones(len(rows)),
        tuple(names),
    )


def _joined(parts: Sequence[tuple[Index, Index, Index, Array]], names: tuple[str, ...]) -> KeyedTerms:
    row, layer, key, value = (np.concatenate([part[k] for part in parts]) for k in range(4))
    return KeyedTerms(row, layer, key, value, names)


def both_terms(first: KeyedTerms, second: KeyedTerms) -> KeyedTerms:
    """The terms of both; their names must differ."""
    return KeyedTerms(
        np.concatenate([first.row, second.row]),
        np.concatenate([first.layer, second.layer]),
        np.concatenate([first.key, second.key + len(first.names)]),
        np.concatenate([first.value, second.value]),
        first.names + second.names,
    )


@dataclass(frozen=True)
class Columns:
    """The columns of a fit: features, kernel centres, then the keyed levels it has seen."""

    keyed: tuple[str, ...]
    smooth: Smooth

    @property
    def names(self) -> tuple[str, ...]:
        kernel = tuple(f"smooth:{k}" for k in range(self.smooth.size))
        return tuple(f"feature:{name}" for name in FEATURES) + kernel + self.keyed

    @property
    def index(self) -> Mapping[str, int]:
        first = len(FEATURES) + self.smooth.size
        return {name: first + k for k, name in enumerate(self.keyed)}


@dataclass(frozen=True)
class Design:
    """Rows at one linearisation.

    resolved : the stacks at eta. working (n,): log D - jacobian'eta, what the linear model starts from.
    rows (n, P): dense columns that the fit knows. unseen (n, K) sparse: levels it does not, of the
    components named in ``unseen_blocks``. leftover (n,): squared weight of the smooth's variance that the
    centres do not span.
    """

    resolved: ResolvedStacks
    eta: Array
    working: Array
    rows: Array
    unseen: csr_array
    unseen_blocks: tuple[str, ...]
    leftover: Array


class Designer:
    """Turns packed stacks and keyed terms into rows, again and again at new coefficients."""

    def __init__(
        self, packed: PackedStacks, terms: KeyedTerms, columns: Columns, parameters: Parameters
    ) -> None:
        self.packed, self.terms, self.columns, self.parameters = packed, terms, columns, parameters
        index = columns.index
        new: dict[str, int] = {}
        self.place = np.array(
            [index[x] if x in index else -1 - new.setdefault(x, len(new)) for x in terms.names], dtype=np.intp
        )
        self.unseen_names = tuple(new)
        self.strands = Strands.of(packed)

    def at(self, coefficients: Array, eta: Array | None = None, rounds: int = 1) -> Design:
        """Resolve with the features of the layers as they lie at ``eta``, ``rounds`` times."""
        eta = np.zeros(self.packed.kind.shape) if eta is None else eta
        geometry = self.parameters.geometry
        resolved = resolve(self.packed, eta, geometry)
        keyed = self._keyed_eta(coefficients)
        kernel = coefficients[len(FEATURES) : len(FEATURES) + self.columns.smooth.size]
        offset = self.parameters.wall_offset
        for _ in range(rounds):
            strands = self.strands
            values = strands.features(resolved, offset) @ coefficients[: len(FEATURES)]
            values += self.columns.smooth.values(strands.moved_points(resolved), kernel)
            eta = keyed.copy()
            eta[strands.row, strands.layer] += values
            resolved = resolve(self.packed, eta, geometry)
        return self._design(resolved, eta)

    def _keyed_eta(self, coefficients: Array) -> Array:
        depth = self.packed.kind.shape[1]
        terms = self.terms
        place = self.place[terms.key]
        keep = (terms.layer >= 0) & (place >= 0)
        cell = terms.row[keep] * depth + terms.layer[keep]
        weights = terms.value[keep] * coefficients[place[keep]]
        eta: Array = np.bincount(cell, weights, self.packed.kind.size).astype(np.float64)
        return eta.reshape(self.packed.kind.shape)

    def _design(self, resolved: ResolvedStacks, eta: Array) -> Design:
        n = len(self.packed)
        terms, strands = self.terms, self.strands
        weight = np.where(
            terms.layer >= 0, resolved.jacobian[terms.row, terms.layer], resolved.pulled[terms.row]
        )
        value = terms.value * weight
        place = self.place[terms.key]
        known = place >= 0
        jacobian = resolved.jacobian[strands.row, strands.layer]
        kernel = self.columns.smooth.features(strands.moved_points(resolved))
        dense = np.hstack([strands.features(resolved, self.parameters.wall_offset), kernel])
        layers = csr_array((jacobian, (strands.row, np.arange(len(jacobian)))), shape=(n, len(jacobian)))
        rows = np.zeros((n, len(self.columns.names)))
        rows[:, : dense.shape[1]] = np.asarray(layers @ dense)
        np.add.at(rows, (terms.row[known], place[known]), value[known])
        unseen = csr_array(
            (value[~known], (terms.row[~known], -1 - place[~known])), shape=(n, len(self.unseen_names))
        )
        short = np.maximum(1.0 - np.sum(kernel**2, axis=1), 0.0)
        return Design(
            resolved=resolved,
            eta=eta,
            working=np.log(resolved.diameter) - np.sum(resolved.jacobian * eta, axis=1),
            rows=rows,
            unseen=unseen,
            unseen_blocks=tuple(name.partition(":")[0] for name in self.unseen_names),
            leftover=np.bincount(strands.row, jacobian**2 * short, n).astype(np.float64),
        )


def whip_columns(packed: PackedStacks, resolved: ResolvedStacks, at_mm: Array, slots: int) -> Array:
    """Columns (n, 2 + slots) of a whip's own effects: pull, drift per metre of thong, each slot's pull.

    at_mm is NaN where the station is not known (no drift then); drift is counted from 500 mm. Slots from
    ``slots`` on share the last column.
    """
    metres = np.where(np.isfinite(at_mm), (np.nan_to_num(at_mm) - 500.0) / 1000.0, 0.0)
    columns = np.zeros((len(packed), 2 + slots))
    columns[:, 0] = resolved.pulled
    columns[:, 1] = resolved.pulled * metres
    slot = np.clip(packed.slot, 1, slots) + 1
    present = (packed.kind > ABSENT) & (packed.kind <= PLAIT)
    rows, layers = np.nonzero(present)
    np.add.at(columns, (rows, slot[rows, layers]), resolved.jacobian[rows, layers])
    return columns


def count_variance(packed: PackedStacks, resolved: ResolvedStacks, gamma: float) -> Array:
    """Variance (n,) of log D from counts given as spans: (J e)^2 var(n) / n^2, summed over layers.

    e is 1 for a bundle and 1 - gamma for a plait, whose width grows with its strands.
    """
    response = resolved.jacobian * np.where(packed.kind == PLAIT, 1.0 - gamma, 1.0)
    relative = packed.count_variance / np.maximum(packed.count, 1.0) ** 2
    total: Array = np.sum(response**2 * relative, axis=1)
    return total
