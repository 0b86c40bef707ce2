"""What goes with good ratings, as the server answers."""

from typing import Literal

from pydantic import Field

from plaitlog.models.whip import Quality
from plaitlog.service.schemas.answers import Wire
from plaitlog.service.schemas.failures import Remark


class AssociationOut(Wire):
    """One taper parameter against one quality."""

    parameter: str = Field(description="Name of the parameter; its unit is what the name ends in.")
    alike: list[str] = Field(description="Parameters that cannot be told apart from it and count as one.")
    quality: Quality = Field(description="The quality.")
    type: str | None = Field(description="Type of the whips; null: all.")
    n: int = Field(ge=0, description="Number of whips that have both.")
    rho: float | None = Field(description="Spearman rank correlation; null: it cannot be told.")
    low_95: float | None = Field(description="Lower end of its 95 % interval (bootstrap over whips).")
    high_95: float | None = Field(description="Upper end of its 95 % interval.")
    p: float | None = Field(description="How often chance alone would give as much; never 0.")
    q: float | None = Field(
        description="Rate of false discoveries at which it would be claimed, over all that is asked together."
    )
    partial_rho: float | None = Field(description="Rank correlation left beside what else is noted.")
    partial_p: float | None = Field(description="Its p; never 0.")
    partial_on: list[str] = Field(description="What else is accounted for, by name.")
    bend_p: float | None = Field(description="p of a rating that is best or worst in the middle; never 0.")
    bend_q: float | None = Field(description="Rate of false discoveries at which a bend would be claimed.")
    bend: Literal["best in the middle", "worst in the middle"] | None = Field(
        description="How it bends; null: it does not turn among the whips."
    )
    bend_at: float | None = Field(description="Value of the parameter at which it turns, in its own unit.")
    claimed: bool = Field(description="Whether the trend may be claimed.")
    bend_claimed: bool = Field(description="Whether the bend may be claimed.")
    findings: list[Remark] = Field(description="What cannot be concluded, and what explains it.")


class DifferenceOut(Wire):
    """In what the best differ from the worst."""

    parameter: str = Field(description="Name of the parameter; its unit is what the name ends in.")
    best: float = Field(description="Its mean among the best, in its own unit.")
    worst: float = Field(description="Its mean among the worst, in its own unit.")
    in_spreads: float = Field(description="Best less worst, in standard deviations among all rated whips.")
    known: int = Field(ge=0, description="Of how many of these whips it is known.")


class ContrastOut(Wire):
    """The three best whips beside the three worst."""

    quality: Quality = Field(description="The quality.")
    rated: int = Field(ge=0, description="Number of rated whips.")
    best: list[str] = Field(description="Labels of the best, the best first.")
    worst: list[str] = Field(description="Labels of the worst, the worst first.")
    differences: list[DifferenceOut] = Field(description="The largest first.")


class SlopeOut(Wire):
    """One parameter in the joint model."""

    name: str = Field(description="Name of the parameter, or build_number.")
    value: float = Field(description="Log odds of a better rating for one spread more of it.")
    low_95: float = Field(description="Lower end of its 95 % interval.")
    high_95: float = Field(description="Upper end of its 95 % interval.")


class JointOut(Wire):
    """All parameters at once, held against always saying the usual rating."""

    n: int = Field(ge=0, description="Number of rated whips.")
    better: bool = Field(description="Whether it does better than the usual rating, beyond chance.")
    usual: float = Field(description="The commonest rating, 1 to 10.")
    score: float = Field(description="Mean ranked probability score of whips left out; less is better.")
    usual_score: float = Field(description="The same of always saying the usual ratings.")
    gain: float = Field(description="The second less the first.")
    se: float = Field(description="Its standard error over whips.")
    slopes: list[SlopeOut] = Field(description="Worth reading only where it is better.")


class RegionOut(Wire):
    """The third of the whips that rated best by one parameter."""

    parameter: str = Field(description="Name of the parameter; its unit is what the name ends in.")
    low: float = Field(description="Where it begins, in the parameter's own unit.")
    high: float = Field(description="Where it ends, in the parameter's own unit.")
    p: float = Field(description="How often chance lets some third of some parameter stand out as much.")
    rating: float = Field(description="Its mean rating, 1 to 10.")
    rest: float = Field(description="That of the others, 1 to 10.")
    n: int = Field(ge=0, description="Number of whips.")
    stands_out: bool = Field(description="Whether it is one to aim for.")


class NearOut(Wire):
    """A rated whip near to the one named."""

    label: str = Field(description="Its label.")
    apart: float = Field(description="Mean distance over the parameters, in spreads.")
    rating: float = Field(description="Its mean rating, 1 to 10.")


class AimOut(Wire):
    """What to aim for."""

    regions: list[RegionOut] = Field(description="The surest first.")
    nearest: list[NearOut] = Field(description="The nearest first; empty where no whip is named.")


class CandidateOut(Wire):
    """What one candidate would teach."""

    label: str = Field(description="Its label.")
    teaches: float = Field(description="Share of the mean variance of predictions that its rating takes off.")
    expected: float = Field(description="Its mean rating under the joint model, 1 to 10.")


class NextOut(Wire):
    """What to try next."""

    candidates: list[CandidateOut] = Field(description="The one that would teach most first.")


class AgreementOut(Wire):
    """How far several raters agree."""

    value: float = Field(description="Intraclass correlation of one rater; 1 is full agreement.")
    low_95: float = Field(description="Lower end of its 95 % interval.")
    high_95: float = Field(description="Upper end of its 95 % interval.")
    whips: int = Field(ge=0, description="Number of whips that several raters judged.")


class HandlingOut(Wire):
    """Which taper parameters go with good ratings."""

    summary: str = Field(description="The answer in words, what matters first.")
    caution: str = Field(description="What to keep in mind.")
    qualities: list[Quality] = Field(description="The qualities that were asked about.")
    type: str | None = Field(description="Type of the whips; null: all.")
    whips: int = Field(ge=0, description="Number of rated whips.")
    raters: int = Field(ge=0, description="Number of raters.")
    sessions: int = Field(ge=0, description="Number of rating sessions.")
    rests_on: str = Field(description="What predicted parameters rest on, in words.")
    family: int = Field(ge=0, description="Number of tests that are one family.")
    false_discoveries: float = Field(description="Share of claims that may be false.")
    price: str = Field(description="What looking at so many pairs costs, in words.")
    associations: list[AssociationOut] = Field(description="By quality, the strongest evidence first.")
    contrasts: list[ContrastOut] = Field(description="The best beside the worst, by quality.")
    joint: JointOut | None = Field(
        description="All parameters at once; null: several qualities, or too few whips."
    )
    aim: AimOut = Field(description="What to aim for; empty where several qualities are asked about.")
    next: NextOut = Field(description="What to try next; empty where no candidate is named.")
    agreement: dict[str, AgreementOut] = Field(description="By quality, where several raters judged.")
    findings: list[Remark] = Field(description="Of the answer as a whole.")
