"""``python -m tests.benchmarks``: accuracy on simulated workshops, then speed, each beside its goal.

About a minute and a half on two cores with ``--jobs 2``, two minutes alone; half a minute with ``--quick``;
``--all-rows`` some six minutes.
"""

import argparse
import time

from tests.benchmarks.accuracy import coverage, ratios, records, table_lines
from tests.benchmarks.speed import figures
from tests.benchmarks.trials import NEW_CORD, NEW_WHIP, ROWS
from tests.benchmarks.workshops import HELD_OUT, MECHANICS, TUNING


def main() -> None:
    options = _options()
    if not options.speed_only:
        _accuracy(options)
    if not options.accuracy_only:
        _speed(options)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--whips", type=int, nargs="+", default=[20, 60], help="recorded whips (8 20 60 200)")
    parser.add_argument("--seeds", type=int, default=4, help="workshops of each kind (six new cords in each)")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument(
        "--all-rows", action="store_true", help="every row of the table, not only the first two"
    )
    parser.add_argument(
        "--rows", type=int, nargs="+", help="rows by number, from 1: " + "; ".join(ROWS).replace("%", "%%")
    )
    parser.add_argument("--mechanics", choices=["all", "tuning", "held out"], default="all")
    parser.add_argument("--habits", choices=["plain", "busy", "mixed"], default="mixed")
    parser.add_argument(
        "--perturb", type=float, default=0.0, help="0.3: every constant of the model off by 30 %%"
    )
    parser.add_argument("--jobs", type=int, default=1, help="processes at once")
    parser.add_argument("--quick", action="store_true", help="one workshop of each kind, 20 whips")
    parser.add_argument("--accuracy-only", action="store_true")
    parser.add_argument("--speed-only", action="store_true")
    options = parser.parse_args()
    if options.quick:
        options.whips, options.seeds = [20], 1
    return options


def _accuracy(options: argparse.Namespace) -> None:
    started = time.perf_counter()
    rows = [ROWS[k - 1] for k in options.rows] if options.rows else [NEW_WHIP, NEW_CORD]
    kinds = {"all": MECHANICS, "tuning": TUNING, "held out": HELD_OUT}[options.mechanics]
    held = records(
        kinds,
        range(options.first_seed, options.first_seed + options.seeds),
        options.whips,
        ROWS if options.all_rows else rows,
        options.habits,
        options.perturb,
        options.jobs,
    )
    print("RMSE of log D over the floor (1: nothing left to learn); * kept out of all tuning")
    print("\n".join(table_lines(ratios(held))))
    print("\nShare of readings inside their interval, by plaited layers in the stack and by cord")
    print(coverage(held).to_string(index=False, float_format=lambda value: f"{value:.2f}"))
    print(f"\naccuracy: {time.perf_counter() - started:.0f} s")


def _speed(options: argparse.Namespace) -> None:
    print(f"\n{'what':<52}{'measured':>10}{'goal':>10}")
    for figure in figures(options.quick, options.jobs):
        print(figure, flush=True)


if __name__ == "__main__":
    main()
