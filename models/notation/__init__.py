"""The line notation, read, said back in words, and printed: the same text on paper, in a cell, at the prompt.

One layer, steps parted by ``;`` and closed by ``p`` (runs to the point), ``end`` or ``?`` (not noted)::

    in: 16A; 30: -2 each 4 to 8 tuck 3; p
    mm: 8A+8B u2o2u2o2; 900: -2A -2B u3o3 gut tuck 80; 1400: -4 u2o2 run; p

Readings, ``/`` for a second one at right angles, ``_`` not measured, ``x?`` doubtful::

    in mm, belly, fresh: 0: 15.4; 12: 13.9/13.5; 24: 11.8

One stack, from the inside out::

    rod 8 mm; core 6A; overlay 16A u2o2u2o2

Places: ``30``, ``~30`` about, ``28..34`` between, ``?`` not noted, ``then 4``, ``p8`` before the point.
The comma is always the decimal mark. Where the notation leaves room this reads it so: about is within
25 mm; a place not noted lies between its neighbours; a bare ``end`` lies at a place not noted.

The work is done in this folder. Reading: ``text`` (cursor), ``place``, ``counts``, ``fate``, ``change`` (one
step), ``schedule``, ``readings``, ``stack``. Writing: ``groups``, ``printing``, ``printing_readings``.
"""

from plaitlog.models.notation.counts import lettered
from plaitlog.models.notation.fate import parse_fate, print_fate
from plaitlog.models.notation.printing import echo_schedule, print_schedule
from plaitlog.models.notation.printing_readings import echo_readings, print_readings
from plaitlog.models.notation.readings import ReadingsLine, parse_readings
from plaitlog.models.notation.schedule import ScheduleLine, parse_schedule
from plaitlog.models.notation.stack import TypedLayer, TypedStack, parse_stack

__all__ = [
    "ReadingsLine",
    "ScheduleLine",
    "TypedLayer",
    "TypedStack",
    "echo_readings",
    "echo_schedule",
    "lettered",
    "parse_fate",
    "parse_readings",
    "parse_schedule",
    "parse_stack",
    "print_fate",
    "print_readings",
    "print_schedule",
]
