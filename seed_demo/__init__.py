"""An invented workshop of two makers, for the demo and for tests: no maker, cord or whip in it exists.

From the inside out: ``chance`` (repeatable numbers), ``cords`` and ``makers`` (who and what), ``mechanics``
(how thick a plait truly is), ``thong`` and ``shaping`` (strands along it), ``builds`` (which whips were
made), ``bench`` and ``ratings`` (what was measured and judged, with the planted truth), ``ledger``,
``notebook`` and ``swatches`` (what was written down), ``workshop`` (all of it as JSON Lines, and its import).
"""
