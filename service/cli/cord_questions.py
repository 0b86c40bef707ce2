"""The questions of ``plaitlog cords add``: what a cord is, and what was measured of it."""

import sys
from collections.abc import Container
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.asking import ask
from plaitlog.service.cli.output import say

if TYPE_CHECKING:
    from plaitlog.service.usecases.cords.measures import OnTheBench

NEEDED: Final = (
    ("name", "Name"),
    ("material", "Material, such as nylon"),
    ("construction", "Construction: cored (sheath over inner yarns), gutted (sheath only) or solid"),
)
MEASURED: Final = (
    ("weighed_length", "Length weighed (m); 10 m is good"),
    ("grams", "It weighs (g)"),
    ("ten_strands", "Ten strands side by side, lying flat (mm)"),
    ("touching", "Calipers just touching (mm)"),
    ("pressed", "Calipers pressed shut (mm)"),
)
INSTEAD: Final = {"weighed_length": "linear_density", "grams": "linear_density", "ten_strands": "flat_width"}
"""What is not asked for where the option beside it says it."""


def asked(bench: "OnTheBench", taken: Container[str]) -> "OnTheBench":
    """Ask for what is not said yet; an answer that cannot be read is asked for again."""
    from plaitlog.service.usecases.cords.measures import cord_as_measured

    say("Enter passes over what is not known.")
    for key, question in (*NEEDED, *MEASURED):
        passed_over = key == "grams" and bench.weighed_length is None
        if getattr(bench, key) or passed_over or (key in INSTEAD and getattr(bench, INSTEAD[key])):
            continue
        needed = (key, question) in NEEDED
        typed = ""
        while True:
            typed = ask(f"{question}: ", typed)
            if not typed and not needed:
                break
            tried = replace(bench, **{key: typed})
            try:
                if needed:
                    tried = settled(tried, taken, only=key)
                else:
                    cord_as_measured(
                        replace(tried, grams=tried.grams or "1") if tried.weighed_length else tried
                    )
            except InputError as error:
                say(f"  {error}")
                typed = typed if sys.stdin.isatty() else ""
                continue
            bench = tried
            break
    if bench.grams is None:
        bench = replace(bench, weighed_length=None)
    return bench


def settled(bench: "OnTheBench", taken: Container[str], only: str | None = None) -> "OnTheBench":
    """The same with its construction written out.

    Raises
    ------
    InputError
        Where a name is taken, or what is needed is missing (``only``: of this key alone).
    """
    from plaitlog.models.whip import CONSTRUCTIONS

    for key, question in NEEDED:
        if only in {None, key} and not getattr(bench, key).strip():
            raise InputError(Finding("needed", f"{question.split(',')[0]} is needed", "type it", key))
    if only in {None, "name"} and bench.name in taken:
        raise InputError(
            Finding(
                "name-taken",
                f"the cord {bench.name!r} is in the workshop already",
                "choose another name; to change it, import a line with the same name",
                "name",
            )
        )
    if only not in {None, "construction"}:
        return bench
    for word in CONSTRUCTIONS:
        if word.startswith(bench.construction.strip().lower()):
            return replace(bench, construction=word)
    known = ", ".join(CONSTRUCTIONS)
    raise InputError(
        Finding(
            "unknown-word", f"{bench.construction!r} is no construction", f"write {known}", "construction"
        )
    )
