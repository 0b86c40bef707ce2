"""Invented workshops with a known truth: whips, taper parameters, what else is noted, ratings."""

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.study import Study

Floats = NDArray[np.float64]
OTHERS = tuple(f"parameter_{k}" for k in range(14))
QUALITIES = (
    "ease", "volley", "accuracy", "roll_out", "recovery", "tracking", "balance", "overall",
)  # fmt: skip
WIDTHS = (2.0, 0.8, 0.1, 40.0, 0.04, 0.3)
MIDDLES = (18.0, 5.0, 0.5, 190.0, 0.35, 0.0)


class Workshop:
    """Whips of two makers and three types; parameters that share a common part, as those of real whips do.

    drift : how strongly each of the first parameters goes with the build number (correlation).
    """

    def __init__(self, n: int, seed: int, *, parameters: int = 6, drift: float = 0.0) -> None:
        self.rng = np.random.default_rng(seed)
        self.n = n
        self.build = self.rng.permutation(n) + 1.0
        skill = standard(self.build)
        common = self.rng.normal(size=n)
        names = (HEADLINE + OTHERS)[:parameters]
        self.latent = {
            name: drift * skill
            + np.sqrt(1 - drift**2) * (0.5 * common + np.sqrt(0.75) * self.rng.normal(size=n))
            for name in names
        }
        self.ratings: dict[str, Floats] = {}

    def rate(self, quality: str, effect: Floats, share: float) -> None:
        """Ratings of which ``share`` of the standard deviation is the effect; in steps of a tenth."""
        noise = self.rng.normal(size=self.n)
        self.ratings[quality] = np.round(share * standard(effect) + np.sqrt(1 - share**2) * noise, 1)

    def rate_at_random(self, *qualities: str) -> None:
        for quality in qualities:
            self.rate(quality, np.arange(self.n, dtype=float), 0.0)

    def study(self) -> Study:
        middles = dict(zip(HEADLINE, MIDDLES, strict=True))
        widths = dict(zip(HEADLINE, WIDTHS, strict=True))
        parameters = {
            name: middles.get(name, 0.0) + widths.get(name, 1.0) * value
            for name, value in self.latent.items()
        }
        words = self.rng.choice(["stock whip", "bullwhip", "snake whip"], self.n).tolist()
        return Study(
            labels=tuple(f"whip {k:05d}" for k in range(self.n)),
            parameters=parameters,
            parameter_sds={name: np.zeros(self.n) for name in parameters},
            ratings=self.ratings,
            levels={name: 5.5 + 2 * rating for name, rating in self.ratings.items()},
            numbers={
                "build_number": self.build,
                "length_mm": self.rng.normal(2000, 200, self.n),
                "weight_g": self.rng.normal(400, 60, self.n),
            },
            groups={
                "type": tuple(words),
                "maker": tuple(self.rng.choice(["Orrin", "Tamsin"], self.n).tolist()),
            },
        )


def standard(column: Floats) -> Floats:
    centred = column - column.mean()
    spread = float(centred.std())
    return centred / spread if spread > 0 else centred


def pearson_of(rank_correlation: float) -> float:
    """The product-moment correlation of a bivariate normal with a given rank correlation (Pearson 1907)."""
    return float(2 * np.sin(np.pi * rank_correlation / 6))


def nothing(n: int, seed: int, drift: float = 0.0) -> Study:
    """No association between any parameter and the quality."""
    shop = Workshop(n, seed, drift=drift)
    shop.rate_at_random("volley")
    return shop.study()


def only_skill(n: int, seed: int) -> Study:
    """Parameters drift with the build number, and so do ratings: nothing else ties them."""
    shop = Workshop(n, seed, drift=0.7)
    shop.rate("overall", shop.build, 0.7)
    return shop.study()


def planted(n: int, seed: int, rank_correlation: float = 0.6) -> Study:
    """Twenty parameters, eight qualities; volley goes with the point, accuracy with weight per length."""
    shop = Workshop(n, seed, parameters=20)
    share = pearson_of(rank_correlation)
    shop.rate("volley", -shop.latent["point_mm"], share)
    shop.rate("accuracy", shop.latent["weight_per_length_g_per_m"], share)
    shop.rate_at_random(*(quality for quality in QUALITIES if quality not in shop.ratings))
    return shop.study()


def bent(n: int, seed: int, share: float = 0.75) -> Study:
    """Rolls out best where the trend of the drop spacing is none."""
    shop = Workshop(n, seed)
    shop.rate("roll_out", -np.square(shop.latent["drop_spacing_trend"]), share)
    return shop.study()


def levelling(n: int, seed: int) -> Study:
    """Ease grows with the thick end up to the middle whip, and stays from there."""
    shop = Workshop(n, seed)
    shop.rate("ease", np.minimum(shop.latent["thick_end_mm"], 0.0), 0.8)
    return shop.study()
