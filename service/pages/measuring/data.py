"""What the pages of measuring show, as plain data."""

from typing import Any, Final

from plaitlog.models.whip import CONDITIONS, Whip
from plaitlog.service.pages.rendering import path_of
from plaitlog.service.reports.thong_filling import FilledStation, thong_picture
from plaitlog.service.usecases.measuring.asking import FINISHED, proposed
from plaitlog.service.usecases.measuring.expecting import Expected, OnBench, expected
from plaitlog.service.usecases.measuring.runs import Due, Run, Setup, Taken
from plaitlog.service.usecases.measuring.stations import run_of
from plaitlog.service.usecases.measuring.summing_up import SummedUp, summed_up
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.shown_units import ShownUnits

NOT_NOTED: Final = "condition not noted"


def setup_data(whip: Whip, shown: ShownUnits, last: Run | None) -> dict[str, Any]:
    """What is asked before a run, with what is proposed."""
    layers = [
        [str(place), f"after layer {place}, {layer.role}"] for place, layer in enumerate(whip.layers, 1)
    ]
    return {
        **_of_whip(whip),
        "layers": [*layers[:-1], [FINISHED, "the finished whip"]],
        "conditions": [["", "not noted"], *([one, one] for one in CONDITIONS)],
        "typed": proposed(whip, shown, last),
        "under_way": last is not None and last.due is not None,
        "last_done": last is not None and last.due is None and any(one.key is not None for one in last.taken),
        "planned": whip.status == "planned",
        "thong": None if whip.thong_length_mm is None else shown.long_length(whip.thong_length_mm),
        "datum": "butt" if whip.datum == "butt" else "handle end of the thong",
        "refused": None,
    }


def run_data(bench: OnBench, run: Run, shown: ShownUnits) -> dict[str, Any]:
    """A run as it stands: what is due, what was measured, what is expected of the rest."""
    told = expected(bench, run.setup)
    due = run.due
    rows = [_row(run, station, told[station], shown) for station in run.order]
    return {
        **_of_whip(bench.whip),
        "on": _on(bench.whip, run.setup),
        "condition": run.setup.condition or NOT_NOTED,
        "each": run.setup.each,
        "from_point": run.setup.from_point,
        "notes": [f"{row['at']}: {row['note']}" for row in rows if row["note"]],
        "left_out": list(run.setup.left_out),
        "step": len(run.taken),
        "done": sum(run.is_done(station) for station in run.order),
        "count": len(rows),
        "unit": shown.diameters,
        "due": None if due is None else _due(bench, run, due, told[due.station], shown),
        "last": None if not run.taken else _last(run, run.taken[-1], shown),
        "back": None if run.back is None else _said(run, run.back, shown),
        "rows": rows,
        "picture": _picture(bench.whip, run, told, shown),
        "caution": CAUTION,
        "rests_on": bench.in_force.rests_on,
        "summed_up": None if due is not None else _summed_up(run, summed_up(bench, run), shown),
        "refused": None,
        "typed": "",
    }


def _of_whip(whip: Whip) -> dict[str, Any]:
    return {
        "label": whip.label,
        "type": whip.type,
        "status": whip.status,
        "address": path_of("measure", whip.label),
        "whip_address": path_of("whips", whip.label),
        "rate_address": path_of("rate", whip.label),
    }


def _on(whip: Whip, setup: Setup) -> str:
    if setup.after_layer is None:
        return "finished whip"
    named = [layer.role for layer in whip.layers[setup.after_layer - 1 : setup.after_layer]]
    return f"layer {setup.after_layer}, {named[0] if named else 'which is no longer recorded'}"


def _due(bench: OnBench, run: Run, due: Due, told: Expected, shown: ShownUnits) -> dict[str, Any]:
    station = run.setup.stations[due.station]
    within = told.within_99_mm
    prediction = told.told
    point = bench.whip.point_mm
    from_point = run.setup.from_point and point is not None
    which = "" if run.setup.each == 1 else "first of two" if due.which == 1 else "second, at right angles"
    return {
        "at": station.text,
        "at_mm": station.at_mm,
        "beside": shown.length(point - station.at_mm) + " from the point" if from_point and point else "",
        "note": station.note,
        "which": due.which,
        "which_words": which,
        "expected_mm": None if prediction is None else prediction.diameter_mm,
        "expected": "" if prediction is None else shown.diameter_number(prediction.diameter_mm),
        "interval": "" if prediction is None else shown.interval(prediction.low_90_mm, prediction.high_90_mm),
        "within_99": "" if within is None else shown.interval(*within),
        "why": told.why,
    }


def _said(run: Run, one: Taken, shown: ShownUnits) -> str:
    at = run.setup.stations[one.station].text
    return f"{at} passed over" if one.key is None else f"{at}: {one.typed}"


def _last(run: Run, one: Taken, shown: ShownUnits) -> dict[str, Any]:
    outside = ""
    if one.outside and one.low_99_mm is not None and one.high_99_mm is not None:
        outside = shown.interval(one.low_99_mm, one.high_99_mm)
    return {"words": _said(run, one, shown), "outside": outside, "remarks": list(one.remarks)}


def _row(run: Run, station: int, told: Expected, shown: ShownUnits) -> dict[str, Any]:
    """One station: what was expected when it was measured, or what is expected now."""
    taken = run.of_station(station)
    read = [one for one in taken if one.key is not None]
    due = run.due
    row: dict[str, Any] = {
        "at": run.setup.stations[station].text,
        "note": run.setup.stations[station].note,
        "state": "ahead",
        "measured": " / ".join(shown.diameter_number(one.size_mm) for one in read),
        "measured_mm": [one.size_mm for one in read],
        "expected": "",
        "interval": "",
        "difference": "",
        "outside": any(one.outside for one in read),
    }
    if due is not None and due.station == station:
        row["state"] = "due"
    elif run.is_done(station):
        row["state"] = "done" if read else "passed over"
    elif run.ended:
        row["state"] = "left"
    first = read[0] if read else None
    if first is not None:
        if first.expected_mm is not None and first.low_90_mm is not None and first.high_90_mm is not None:
            mean = sum(one.size_mm for one in read) / len(read)
            row["expected"] = shown.diameter_number(first.expected_mm)
            row["interval"] = shown.interval(first.low_90_mm, first.high_90_mm)
            row["difference"] = shown.difference(mean - first.expected_mm)
    elif told.told is not None and row["state"] != "passed over":
        row["expected"] = shown.diameter_number(told.told.diameter_mm)
        row["interval"] = shown.interval(told.told.low_90_mm, told.told.high_90_mm)
    return row


def _picture(whip: Whip, run: Run, told: list[Expected], shown: ShownUnits) -> str:
    due = run.due
    stations = []
    for place, station in enumerate(run.setup.stations):
        read = [one for one in run.of_station(place) if one.key is not None]
        here = told[place].told
        state = (
            "due" if due is not None and due.station == place else "done" if run.is_done(place) else "ahead"
        )
        measured = sum(one.size_mm for one in read) / len(read) if read else None
        words = station.text if measured is None else f"{station.text}: {shown.diameter(measured)}"
        stations.append(
            FilledStation(
                at_mm=station.at_mm,
                low_90_mm=None if here is None else here.low_90_mm,
                high_90_mm=None if here is None else here.high_90_mm,
                measured_mm=measured,
                outside=any(one.outside for one in read),
                state=state,
                words=words,
            )
        )
    start, end = run_of(whip, run.setup.after_layer)
    low = min(start, stations[0].at_mm)
    high = stations[-1].at_mm if end is None else max(end, stations[-1].at_mm)
    name = f"{sum(map(run.is_done, run.order))} of {len(stations)} stations measured"
    ends = (f"handle end, {shown.length(low)}", shown.length(high))
    if run.setup.after_layer is None and end is not None:
        ends = (ends[0], f"point, {ends[1]}")
    return thong_picture(name, stations, (low, high), ends)


def _summed_up(run: Run, said: SummedUp, shown: ShownUnits) -> dict[str, Any]:
    ratio = None
    if said.ratio is not None:
        share = 100 * (said.ratio - 1)
        way = "thicker" if share >= 0 else "thinner"
        ratio = f"{shown.number(f'{abs(share):.1f}')} % {way} than expected"
    greatest = None
    if said.greatest is not None:
        one = said.greatest
        way = "thicker" if one.off_mm >= 0 else "thinner"
        greatest = {
            "at": run.setup.stations[one.station].text,
            "words": f"{shown.diameter(abs(one.off_mm))} {way}: {shown.diameter(one.measured_mm)} measured, "
            f"{shown.diameter(one.expected_mm)} expected",
        }
    return {
        "stations": said.stations,
        "readings": said.readings,
        "passed_over": said.passed_over,
        "ratio": ratio,
        "greatest": greatest,
        "suspects": [
            {
                "at": run.setup.stations[one.taken.station].text,
                "typed": one.taken.typed,
                "within": shown.interval(one.low_99_mm, one.high_99_mm),
            }
            for one in said.suspects
        ],
    }
