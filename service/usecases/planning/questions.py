"""The questions that a plan needs an answer to, one after another; an answer is checked at once."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, get_args

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, nearest_or
from plaitlog.models.units import parse_diameter, parse_length
from plaitlog.models.whip import Cord
from plaitlog.service.schemas.plan_spec import PatternName, spec_from
from plaitlog.service.usecases.names import cord_meant
from plaitlog.service.usecases.planning.asking import NEXT
from plaitlog.service.usecases.workshop import cords_by_name, makers, whips_in_brief

NONE_WORDS: Final = ("none", "no", "-")
PATTERNS: Final = get_args(PatternName)
ROLES: Final = ("core", "belly", "overlay")


@dataclass(frozen=True, slots=True)
class Words:
    """What answers may name."""

    cords: Mapping[str, Cord]
    labels: tuple[str, ...]
    makers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanQuestion:
    """key : of the answer. proposal : what Enter takes, empty where an answer is needed."""

    key: str
    ask: str
    proposal: str = ""
    help: str = "Free text."


@dataclass
class Questions:
    """The data of a plan while it is asked for; keys that it has already are not asked."""

    words: Words
    data: dict[str, Any]
    answered: set[str] = field(default_factory=set)

    def next(self) -> PlanQuestion | None:
        """The next question, None where all is known."""
        for question, is_open in self._all():
            if question.key not in self.answered and is_open():
                return question
        return None

    def answer(self, typed: str) -> None:
        """Take the answer to the question that is asked now.

        Raises
        ------
        InputError
            Where it cannot be taken, with what to type instead.
        """
        question = self.next()
        assert question is not None
        if not typed:
            raise InputError(Finding("missing", "an answer is needed", question.help))
        self._take(question.key, typed.strip())
        self.answered.add(question.key)

    def _all(self) -> list[tuple[PlanQuestion, Callable[[], bool]]]:
        """Every question with whether it is open; in the order in which they are asked."""
        target = self.data.get("target") or {}
        sized = any(key.startswith("stations") for key in target) or self._is_like()
        pattern = self.data.get("pattern")
        stock = isinstance(pattern, str) and pattern.endswith("stock whip")
        whole_length = pattern is not None and pattern[0].isdigit()
        hands = self.words.makers
        found = [
            (
                PlanQuestion("label", "Name of the plan", NEXT, "It stands on the bench sheet."),
                lambda: not self._has("label"),
            ),
            (
                PlanQuestion(
                    "maker",
                    "Maker",
                    hands[0] if len(hands) == 1 else "none",
                    f"Whose hands: {', '.join(hands)}; none widens the intervals.",
                ),
                lambda: bool(hands) and not (self._has("maker") or self._is_like()),
            ),
            (
                PlanQuestion(
                    "wanted",
                    "What is wanted",
                    "stock whip",
                    f"One of {', '.join(PATTERNS)} (common practice, no source); or 'like LABEL', "
                    "'pair of LABEL'; or 'numbers'.",
                ),
                lambda: not (target or pattern),
            ),
            (
                PlanQuestion("thong_length", "Length of the thong", help="Such as 5' 6\" or 1.7 m."),
                lambda: not (self._has("thong_length") or self._is_like() or whole_length),
            ),
            (
                PlanQuestion("handle_length", "Length of the handle", "none", "Such as 8 in, or none."),
                lambda: not (self._has("handle_length") or self._is_like()),
            ),
            (
                PlanQuestion("thick_end", "Diameter at the thick end", help="Such as 18 mm."),
                lambda: not (sized or stock or "thick_end_mm" in target or "thick_end" in target),
            ),
            (
                PlanQuestion("point", "Diameter at the point", "5.5 mm", "Such as 5.5 mm."),
                lambda: not (sized or stock or "point_mm" in target or "point" in target),
            ),
            (
                PlanQuestion("taper", "Taper", "even", "early, even or late."),
                lambda: not (sized or pattern or {"taper", "fullness"} & set(target)),
            ),
        ]
        before = ""
        for role in ROLES:
            proposal = before if role == "overlay" else "none" if role == "belly" else ""
            names = ", ".join(self.words.cords)
            helped = f"One of {names}" + ("." if role == "overlay" else "; or none.")
            question = PlanQuestion(role, f"Cord of the {role}", proposal, helped)
            found.append((question, lambda: not (self.data.get("layers") or self._is_like())))
            named = [one["cord"] for one in self.data.get("_layers", []) if one["role"] in ROLES]
            before = named[-1] if named else ""
        return found

    def _has(self, key: str) -> bool:
        return self.data.get(key) is not None or self.data.get(f"{key}_mm") is not None

    def _is_like(self) -> bool:
        target = self.data.get("target") or {}
        return "like" in target or "pair_of" in target

    def _take(self, key: str, typed: str) -> None:
        if key == "wanted":
            self._take_wanted(typed)
        elif key in ROLES:
            self._take_layer(key, typed)
        elif key in ("thick_end", "point", "taper"):
            if key != "taper":
                parse_diameter(typed)
            self._try(target={**(self.data.get("target") or {}), key: typed})
        elif typed.casefold() in NONE_WORDS and key in ("handle_length", "maker"):
            self._try(**({"handle_length": "0 in"} if key == "handle_length" else {}))
        elif key in ("label", "maker"):
            self._try(**{key: typed})
        else:
            parse_length(typed)
            self._try(**{key: typed})

    def _take_wanted(self, typed: str) -> None:
        words = typed.casefold()
        for start, key in (("like ", "like"), ("pair of ", "pair_of")):
            if words.startswith(start):
                label = typed[len(start) :].strip()
                if label not in self.words.labels:
                    remedy = nearest_or(label, self.words.labels, "plaitlog whips lists them")
                    raise InputError(Finding("whip-not-found", f"there is no whip {label!r}", remedy))
                self._try(target={key: label})
                return
        if words not in ("numbers", *PATTERNS):
            remedy = nearest_or(words, PATTERNS, "? lists what there is")
            raise InputError(Finding("unknown-word", f"{typed!r} is not known here", remedy))
        if words != "numbers":
            self._try(pattern=words)

    def _take_layer(self, role: str, typed: str) -> None:
        layers = self.data.pop("_layers", [])
        try:
            if typed.casefold() not in NONE_WORDS:
                layers = [*layers, {"role": role, "cord": cord_meant(typed, self.words.cords).name}]
            elif role == "overlay":
                raise InputError(Finding("missing", "an overlay is needed", "name its cord"))
        finally:
            self.data["_layers"] = layers
        if role == "overlay":
            self.data.pop("_layers")
            self._try(layers=layers)

    def _try(self, **more: Any) -> None:
        """Keep the answer where it can be taken."""
        kept = {key: value for key, value in self.data.items() if key != "_layers"}
        spec_from({**kept, **more})
        self.data.update(more)


def workshop_words(session: Session) -> Words:
    """Cords and whips of the workshop."""
    labels = tuple(one.label for one in whips_in_brief(session))
    return Words(cords_by_name(session), labels, tuple(makers(session)))
