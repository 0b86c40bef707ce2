"""False discoveries under control over one family of tests (Benjamini & Hochberg 1995)."""

from collections.abc import Sequence

from scipy.stats import false_discovery_control


def discovery_q(p: Sequence[float]) -> list[float]:
    """For each p of a family the least false discovery rate at which it would be claimed; q >= p."""
    return [float(q) for q in false_discovery_control(p, method="bh")] if len(p) else []
