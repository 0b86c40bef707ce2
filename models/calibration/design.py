"""Stacks to the columns of the regression.

The correction of a layer, eta = x'beta + z'u + s(g), is linear in the coefficients; a reading's row is the
sum of its layers' columns, each times d log D / d eta. Columns are named ``block:level``: features and kernel
centres stand in every layer, keyed columns (a cord, a cord in a role, a maker) where their level occurs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array

from plaitlog.models.calibration.features import FEATURES, Strands
from plaitlog.models.calibration.packed import Array, PackedStacks
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import ResolvedStacks, cover_followed, resolve
from plaitlog.models.calibration.smooth import Smooth
from plaitlog.models.calibration.terms import CORRECTION, SOFTNESS, WIDTH, KeyedTerms


@dataclass(frozen=True)
class Columns:
    """The columns of a fit: features, kernel centres, then the keyed levels it has seen."""

    keyed: tuple[str, ...]
    smooth: Smooth

    @cached_property
    def names(self) -> tuple[str, ...]:
        kernel = tuple(f"smooth:{k}" for k in range(self.smooth.size))
        return tuple(f"feature:{name}" for name in FEATURES) + kernel + self.keyed

    @cached_property
    def index(self) -> Mapping[str, int]:
        first = len(FEATURES) + self.smooth.size
        return {name: first + k for k, name in enumerate(self.keyed)}


@dataclass(frozen=True)
class Design:
    """Rows at one linearisation.

    resolved : the stacks at eta. response (n, L): d log D / d eta of each layer, its features following the
    diameters. working (n,): log D less all columns times their coefficients (response'eta and the guessed
    widths), what the linear model starts from.
    dense (n, D): features and kernels; keyed (n, K) sparse: levels that the fit knows, in the order of
    ``Columns``. unseen, sparse: levels it does not, of the components named in ``unseen_blocks``.
    leftover (n,): squared weight of the smooth's variance that the centres do not span.
    """

    resolved: ResolvedStacks
    response: Array
    eta: Array
    working: Array
    dense: Array
    keyed: csr_array
    unseen: csr_array
    unseen_blocks: tuple[str, ...]
    leftover: Array

    @cached_property
    def rows(self) -> Array:
        """All known columns (n, P), dense."""
        return np.hstack([self.dense, self.keyed.toarray()])


@dataclass(frozen=True)
class _Guessed:
    """What the guessed flat widths turn out to be: shifts (n, L) of log n w and of the softness; how the
    correction eta of a layer moves with the cover (n, L) and with the softness.

    Wider strands lie flatter by the angle law: the correction moves by ``angle`` (n, L), which is -gamma
    where the angle follows the cover at the plain geometry. It is not asked again: the law has a corner at
    its limits, and a fit to stacks near one would settle on either side of it by chance.
    """

    wider: Array
    softer: Array
    angle: Array
    by_cover: Array
    by_softness: float


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
        self.guesses = bool((terms.through != CORRECTION).any())
        self.angle: Array | None = None

    def at(self, coefficients: Array, eta: Array | None = None, rounds: int = 1) -> Design:
        """Resolve with the features of the layers as they lie at ``eta``, ``rounds`` times."""
        eta = np.zeros(self.packed.kind.shape) if eta is None else eta
        geometry = self.parameters.geometry
        resolved = resolve(self.packed, eta, geometry, slopes=rounds == 0)
        if self.guesses and self.angle is None:
            plain = resolved
            if eta.any():
                plain = resolve(self.packed, np.zeros(eta.shape), geometry, slopes=False)
            free = np.isinf(self.packed.turn)
            self.angle = -geometry.gamma * free * cover_followed(plain.cover, geometry)
        keyed = self._shifts(coefficients, CORRECTION)
        softer = None
        if self.angle is not None:
            wider, softer = self._shifts(coefficients, WIDTH), self._shifts(coefficients, SOFTNESS)
            keyed += self.angle * wider
            resolved = replace(resolved, cover=resolved.cover * np.exp(wider))
        kernel = coefficients[len(FEATURES) : len(FEATURES) + self.columns.smooth.size]
        offset = self.parameters.wall_offset
        strands = self.strands
        for left in reversed(range(rounds)):
            values = strands.features(resolved, offset, softer) @ coefficients[: len(FEATURES)]
            values += self.columns.smooth.values(strands.moved_points(resolved), kernel)
            eta = keyed.copy()
            eta[strands.row, strands.layer] += values
            resolved = resolve(self.packed, eta, geometry, slopes=left == 0)
            if self.angle is not None:
                resolved = replace(resolved, cover=resolved.cover * np.exp(wider))
        smooth = self.columns.smooth.features_and_slopes(strands.moved_points(resolved), kernel)
        slopes = coefficients[: len(FEATURES)]
        response = self._response(resolved, slopes, smooth[1])
        guessed = None
        if self.angle is not None and softer is not None:
            by_cover = np.zeros(self.packed.kind.shape)
            by_cover[strands.row, strands.layer] = strands.by_cover(slopes, smooth[1])
            by_softness = float(slopes[FEATURES.index("softness")])
            guessed = _Guessed(wider, softer, self.angle, by_cover, by_softness)
        return self._design(resolved, eta, response, smooth[0], guessed)

    def _shifts(self, coefficients: Array, through: int) -> Array:
        """Sums (n, L) over the keyed entries of layers that act through this."""
        depth = self.packed.kind.shape[1]
        terms = self.terms
        place = self.place[terms.key]
        keep = (terms.layer >= 0) & (place >= 0) & (terms.through == through)
        cell = terms.row[keep] * depth + terms.layer[keep]
        weights = terms.value[keep] * coefficients[place[keep]]
        shifts: Array = np.bincount(cell, weights, self.packed.kind.size).astype(np.float64)
        return shifts.reshape(self.packed.kind.shape)

    def _response(self, resolved: ResolvedStacks, slopes: Array, smooth: Array) -> Array:
        """d log D / d eta (n, L), with the features following the diameters: J (I - feedback)^-1."""
        feedback = self.strands.feedback(resolved, slopes, self.parameters.wall_offset, smooth)
        response = resolved.jacobian.copy()
        # A layer's features move with its own correction and those inside it: from the outside in.
        for layer in reversed(range(response.shape[1])):
            above = feedback[:, layer + 1 :, layer] * response[:, layer + 1 :]
            response[:, layer] = (response[:, layer] + above.sum(axis=1)) / (1 - feedback[:, layer, layer])
        return response

    def _design(
        self, resolved: ResolvedStacks, eta: Array, response: Array, kernel: Array, guessed: _Guessed | None
    ) -> Design:
        n = len(self.packed)
        terms, strands = self.terms, self.strands
        weight = np.where(terms.layer >= 0, response[terms.row, terms.layer], resolved.pulled[terms.row])
        working = np.log(resolved.diameter) - np.sum(response * eta, axis=1)
        softer = None
        if guessed is not None:
            softer = guessed.softer
            wide = np.flatnonzero(terms.through == WIDTH)
            weight[wide] *= (guessed.angle + guessed.by_cover)[terms.row[wide], terms.layer[wide]]
            weight[terms.through == SOFTNESS] *= guessed.by_softness
            moved = guessed.by_cover * guessed.wider + guessed.by_softness * softer
            working -= np.sum(response * moved, axis=1)
        value = terms.value * weight
        place = self.place[terms.key]
        known = place >= 0
        jacobian = response[strands.row, strands.layer]
        dense = np.hstack([strands.features(resolved, self.parameters.wall_offset, softer), kernel])
        layers = csr_array((jacobian, (strands.row, np.arange(len(jacobian)))), shape=(n, len(jacobian)))
        first = len(FEATURES) + self.columns.smooth.size
        keyed = csr_array(
            (value[known], (terms.row[known], place[known] - first)), shape=(n, len(self.columns.keyed))
        )
        unseen = csr_array(
            (value[~known], (terms.row[~known], -1 - place[~known])), shape=(n, len(self.unseen_names))
        )
        short = np.maximum(1.0 - np.sum(kernel**2, axis=1), 0.0)
        return Design(
            resolved=resolved,
            response=response,
            eta=eta,
            working=working,
            dense=np.asarray(layers @ dense),
            keyed=keyed,
            unseen=unseen,
            unseen_blocks=tuple(name.partition(":")[0] for name in self.unseen_names),
            leftover=np.bincount(strands.row, jacobian**2 * short, n).astype(np.float64),
        )
