"""What would have to be noted or measured for the taper parameters that are missing or only predicted."""

from collections.abc import Iterator, Mapping, Sequence

from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding
from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.handling.profile import ENDS, LARGEST_GAP, LEAST_FOR_SHAPE, Profile
from plaitlog.models.whip import Whip


def what_would_tell(
    whip: Whip, parameters: Mapping[str, Estimate], profile: Profile | None, reasons: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Findings, most useful first; ``reasons``: why something could not be worked out."""
    unique = {reason.code: reason for reason in reasons}
    return (*_about_readings(parameters, profile), *unique.values(), *_about_the_rest(whip, parameters))


def _about_readings(parameters: Mapping[str, Estimate], profile: Profile | None) -> Iterator[Finding]:
    if profile is not None and profile.tells_shape:
        return
    stations = 0 if profile is None else len(profile.at_mm)
    here = counted(stations, "station")
    if profile is None or not profile.tells_middle:
        share = f"{100 * ENDS:.0f} %"
        yield Finding(
            "too-few-readings",
            f"measured at {here}: not near thick end, middle and point, so nothing of the shape is measured",
            f"measure within {share} of the length of each; better at {LEAST_FOR_SHAPE} stations or more",
        )
    elif stations < LEAST_FOR_SHAPE:
        known = "only predicted" if "fullness" in parameters else "not known"
        yield Finding(
            "no-fullness",
            f"measured at {here}: the middle share stands, the fullness and the parallel lengths are {known}",
            f"measure at {LEAST_FOR_SHAPE - stations} stations more, spread along the thong",
        )
    else:
        yield Finding(
            "gap-in-readings",
            f"more than {100 * LARGEST_GAP:.0f} % of the thong lies between two stations: no fullness",
            "measure between them",
        )


def _about_the_rest(whip: Whip, parameters: Mapping[str, Estimate]) -> Iterator[Finding]:
    weight = parameters.get("weight_per_length_g_per_m")
    if weight is None or weight.known != "recorded":
        known = "only predicted" if weight else "not known"
        yield Finding("not-weighed", f"the weight is {known}", "weigh the whip and note what hung on it")
    if "balance_fraction" in parameters and parameters["balance_fraction"].known == "reckoned":
        yield Finding(
            "balance-not-noted", "the balance point is reckoned from the strands", "note it, laid straight"
        )
    if whip.handle_length_mm is None:
        yield Finding("handle-length", "the length of the handle is not noted", "note it, 0 for none")
