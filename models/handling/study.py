"""What an analysis of handling starts from: whips as rows, taper parameters and ratings as columns.

Not a number (NaN) stands for what is not known or not tried, never zero.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Study:
    """n whips that were rated.

    labels : (n,). parameters, parameter_sds : by name of the parameter, each (n,); sd 0 for what is known
    exactly. ratings : by quality, each (n,), the mean over a whip's sessions of ratings standardised within
    the rater. levels : by quality, each (n,), the mean rating itself, 1 to 10. numbers : by name, each (n,),
    what else could explain a rating (build number within the maker, length, hours of use). groups : by name,
    each (n,) words, None for not noted (maker, type, fall, cracker).
    """

    labels: tuple[str, ...]
    parameters: Mapping[str, Array]
    parameter_sds: Mapping[str, Array]
    ratings: Mapping[str, Array]
    levels: Mapping[str, Array]
    numbers: Mapping[str, Array]
    groups: Mapping[str, tuple[str | None, ...]]

    def __post_init__(self) -> None:
        n = len(self.labels)
        columns = [self.parameters, self.parameter_sds, self.ratings, self.levels, self.numbers]
        wrong = [name for found in columns for name, column in found.items() if column.shape != (n,)]
        wrong += [name for name, words in self.groups.items() if len(words) != n]
        if wrong:
            raise ValueError(f"{', '.join(wrong)}: a column needs one value for each of {n} whips")
        if self.parameters.keys() != self.parameter_sds.keys() or self.ratings.keys() != self.levels.keys():
            raise ValueError("each parameter needs its uncertainty, each standardised rating its level")
