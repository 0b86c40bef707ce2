"""Ordinary regression against the NIST Statistical Reference Datasets, linear regression.

Data (public domain) and certified values from itl.nist.gov/div898/strd; Longley's data come from statsmodels.
A backward stable method in double precision can give about 16 digits less the logarithm of the condition
number of the scaled columns (given at each set), less what is lost where a coefficient is small beside the
data or the noise. Columns are powers of x where the model is a polynomial.
"""

import math

import numpy as np
import statsmodels.api as sm
from numpy.typing import NDArray

from plaitlog.models.calibration.mixed.regressor import MixedRegressor

Floats = NDArray[np.float64]


def numbers(text: str) -> Floats:
    return np.array(text.split(), dtype=float)


def powers(x: Floats, degree: int) -> Floats:
    return x[:, None] ** np.arange(1, degree + 1)


def digits(estimated: object, certified: object) -> float:
    """Logarithm of the relative error, the worst of several: NIST's own measure (LRE)."""
    target = np.asarray(certified, dtype=float)
    error = np.abs(np.asarray(estimated, dtype=float) - target) / np.abs(target)
    return -math.log10(max(float(error.max()), 1e-16))


def least_squares(X: Floats, y: Floats, fit_intercept: bool = True) -> MixedRegressor:
    return MixedRegressor(blocks={}, fit_intercept=fit_intercept).fit(X, y)


def estimates(regressor: MixedRegressor) -> tuple[Floats, Floats]:
    """Coefficients and standard errors, the intercept first."""
    errors = np.sqrt([regressor.intercept_variance_, *np.diag(regressor.coef_covariance_)])
    return np.array([regressor.intercept_, *regressor.coef_]), errors


NORRIS_X = numbers(
    """
    0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6
    556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5
    """
)
NORRIS_Y = numbers(
    """
    0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7
    228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2
    """
)
WAMPLER5_Y = numbers(
    """
    7590001 -20479994 20480063 -20479636 25231365 -20476094 20489331 -20460392 18417449 -20413570 20591111
    -20302844 18651453 -20077766 21059195 -19666384 26348481 -18971402 22480719 -17866340 10958421
    """
)
FILIP_Y = numbers(
    """
    0.8116 0.9072 0.9052 0.9039 0.8053 0.8377 0.8667 0.8809 0.7975 0.8162 0.8515 0.8766 0.8885 0.8859 0.8959
    0.8913 0.8959 0.8971 0.9021 0.909 0.9139 0.9199 0.8692 0.8872 0.89 0.891 0.8977 0.9035 0.9078 0.7675
    0.7705 0.7713 0.7736 0.7775 0.7841 0.7971 0.8329 0.8641 0.8804 0.7668 0.7633 0.7678 0.7697 0.77 0.7749
    0.7796 0.7897 0.8131 0.8498 0.8741 0.8061 0.846 0.8751 0.8856 0.8919 0.8934 0.894 0.8957 0.9047 0.9129
    0.9209 0.9219 0.7739 0.7681 0.7665 0.7703 0.7702 0.7761 0.7809 0.7961 0.8253 0.8602 0.8809 0.8301 0.8664
    0.8834 0.8898 0.8964 0.8963 0.9074 0.9119 0.9228
    """
)
FILIP_X = numbers(
    """
    -6.860120914 -4.324130045 -4.358625055 -4.358426747 -6.955852379 -6.661145254 -6.355462942 -6.118102026
    -7.115148017 -6.815308569 -6.519993057 -6.204119983 -5.853871964 -6.109523091 -5.79832982 -5.482672118
    -5.171791386 -4.851705903 -4.517126416 -4.143573228 -3.709075441 -3.499489089 -6.300769497 -5.953504836
    -5.642065153 -5.031376979 -4.680685696 -4.329846955 -3.928486195 -8.56735134 -8.363211311 -8.107682739
    -7.823908741 -7.522878745 -7.218819279 -6.920818754 -6.628932138 -6.323946875 -5.991399828 -8.781464495
    -8.663140179 -8.473531488 -8.247337057 -7.971428747 -7.676129393 -7.352812702 -7.072065318 -6.774174009
    -6.478861916 -6.159517513 -6.835647144 -6.53165267 -6.224098421 -5.910094889 -5.598599459 -5.290645224
    -4.974284616 -4.64454848 -4.290560426 -3.885055584 -3.408378962 -3.13200249 -8.726767166 -8.66695597
    -8.511026475 -8.165388579 -7.886056648 -7.588043762 -7.283412422 -6.995678626 -6.691862621 -6.392544977
    -6.067374056 -6.684029655 -6.378719832 -6.065855188 -5.752272167 -5.132414673 -4.811352704 -4.098269308
    -3.66174277 -3.2644011
    """
)


def test_norris() -> None:
    """Lower difficulty; condition number 3, an intercept of -0.3 beside data of 1000."""
    fit = least_squares(NORRIS_X[:, None], NORRIS_Y)
    coefficients, errors = estimates(fit)
    assert digits(coefficients, [-0.262323073774029, 1.00211681802045]) >= 12
    assert digits(errors, [0.232818234301152, 0.429796848199937e-03]) >= 13
    assert digits(fit.sigma_, 0.884796396144373) >= 13


def test_noint1() -> None:
    """Average difficulty, no intercept: y = 130 .. 140, x = 60 .. 70."""
    fit = least_squares(np.arange(60.0, 71.0)[:, None], np.arange(130.0, 141.0), fit_intercept=False)
    assert digits(fit.coef_, [2.07438016528926]) >= 14
    assert digits(np.sqrt(np.diag(fit.coef_covariance_)), [0.0165289256198347]) >= 14
    assert digits(fit.sigma_, 3.56753034006338) >= 14
    assert fit.intercept_ == 0.0
    assert fit.intercept_variance_ == 0.0


def test_longley() -> None:
    """Higher difficulty; condition number 4e4."""
    data = sm.datasets.longley.load_pandas()
    fit = least_squares(data.exog.to_numpy(), data.endog.to_numpy())
    coefficients, errors = estimates(fit)
    certified = [
        -3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683, -1.03322686717359,
        -0.511041056535807e-01, 1829.15146461355,
    ]  # fmt: skip
    certified_errors = [
        890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699, 0.214274163161675,
        0.226073200069370, 455.478499142212,
    ]  # fmt: skip
    assert digits(coefficients, certified) >= 10
    assert digits(errors, certified_errors) >= 11
    assert digits(fit.sigma_, 304.854073561965) >= 12


def test_filip() -> None:
    """Higher difficulty: degree 10, condition number 5e9, of which normal equations give no digit."""
    fit = least_squares(powers(FILIP_X, 10), FILIP_Y)
    coefficients, errors = estimates(fit)
    certified = [
        -1467.48961422980, -2772.17959193342, -2316.37108160893, -1127.97394098372, -354.478233703349,
        -75.1242017393757, -10.8753180355343, -1.06221498588947, -0.670191154593408e-01,
        -0.246781078275479e-02, -0.402962525080404e-04,
    ]  # fmt: skip
    certified_errors = [
        298.084530995537, 559.779865474950, 466.477572127796, 227.204274477751, 71.6478660875927,
        15.2897178747400, 2.23691159816033, 0.221624321934227, 0.142363763154724e-01,
        0.535617408889821e-03, 0.896632837373868e-05,
    ]  # fmt: skip
    assert digits(coefficients, certified) >= 7
    assert digits(errors, certified_errors) >= 7
    assert digits(fit.sigma_, 0.334801051324544e-02) >= 8


def test_wampler5() -> None:
    """Higher difficulty; condition number 2e3, but all coefficients are 1 under noise of 2.4e7."""
    fit = least_squares(powers(np.arange(21.0), 5), WAMPLER5_Y)
    coefficients, errors = estimates(fit)
    certified_errors = [
        21523262.4678170, 23635517.3469681, 7793435.24331583, 1014755.07550350, 56456.6512170752,
        1123.24854679312,
    ]  # fmt: skip
    assert digits(coefficients, np.ones(6)) >= 5
    assert digits(errors, certified_errors) >= 12
    assert digits(fit.sigma_, 23601450.2379268) >= 14
