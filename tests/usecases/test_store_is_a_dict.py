"""The records behave like a plain dictionary, whatever is imported in whatever order.

Beside the real store a dictionary is kept: whip by label, with its stated keys and a bag of readings.
Every rule changes both; after every rule the export must say what the dictionary says.
"""

import io
import json
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.exporting import export_records
from plaitlog.service.usecases.importing import import_lines
from tests.usecases.examples import FELL, RIDGE

LAYERS: list[list[dict[str, Any]]] = [
    [{"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6], [300, 4], [700, 0]], "fate": "cut"}],
    [
        {"role": "core", "cord": "Fell 3 mm", "strands": [[0, 4], [500, 0]]},
        {"role": "binding", "thickness_mm": 0.2, "to_mm": 900},
        {"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, [10, 12]]]},
    ],
    [{"role": "overlay"}],
]
labels = st.sampled_from(["a", "b", "Ä 1"])
whip_keys = st.fixed_dictionaries(
    {},
    optional={
        "hours": st.integers(1, 40),
        "fall": st.sampled_from(["none", "red"]),
        "foundation": st.sampled_from(["none", {"diameter_mm": 8, "to_mm": 20}]),
        "finish": st.sampled_from([["waxed"], "none"]),
        "layers": st.sampled_from(LAYERS),
        "weight_g": st.sampled_from([300, 412.5]),
        "balance": st.just({"at_mm": 450, "from": "butt"}),
        "turn_lengths": st.just([{"at_mm": 300, "turn_mm": 62}]),
        "ratings": st.sampled_from([{"ease": 7}, {"volley": "not tried"}]),
        "cord_used": st.just([{"cord": "Ridge 4 mm", "metres": 38}]),
        "notes": st.none() | st.just("late"),
    },
)
a_reading = st.fixed_dictionaries(
    {"at_mm": st.sampled_from([0, 300, 600]), "diameter_mm": st.sampled_from([10, 12.5])},
    optional={"condition": st.just("fresh")},
)
bags = st.lists(a_reading, max_size=4)


class Store(RuleBasedStateMachine):
    """The store and the dictionary side by side."""

    @initialize()
    def open(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.engine, _ = ready_engine(str(Path(self.folder.name) / "whips.db"))
        self.whips: dict[str, dict[str, Any]] = {}
        self.bags: dict[str, Counter[str]] = {}
        self.take([RIDGE, FELL])

    def teardown(self) -> None:
        if hasattr(self, "engine"):
            self.engine.dispose()
            self.folder.cleanup()

    def take(self, records: list[dict[str, Any]]) -> None:
        text = "".join(json.dumps(record) + "\n" for record in records).encode()
        with writing(self.engine) as session:
            import_lines(session, io.BytesIO(text))

    @rule(label=labels, keys=whip_keys, readings=bags, later=bags)
    def record(
        self,
        label: str,
        keys: dict[str, Any],
        readings: list[dict[str, Any]],
        later: list[dict[str, Any]],
    ) -> None:
        """A whip with some readings on its line, and some on lines of their own."""
        self.take(
            [
                *({"kind": "reading", "whip": label, **each} for each in later),
                {"kind": "whip", "label": label, "readings": readings, **keys},
            ]
        )
        self.whips.setdefault(label, {}).update({k: v for k, v in keys.items() if v is not None})
        in_file = Counter(json.dumps(each, sort_keys=True) for each in [*readings, *later])
        self.bags[label] = self.bags.get(label, Counter()) | in_file

    @rule()
    def take_its_own_export(self) -> None:
        self.take(self.exported())

    @rule()
    def move_to_another_database(self) -> None:
        records = self.exported()
        self.engine.dispose()
        self.folder.cleanup()
        self.folder = tempfile.TemporaryDirectory()
        self.engine, _ = ready_engine(str(Path(self.folder.name) / "whips.db"))
        self.take(records)

    def exported(self) -> list[dict[str, Any]]:
        with reading(self.engine) as session:
            return list(export_records(session))

    @invariant()
    def says_what_the_dictionary_says(self) -> None:
        if not hasattr(self, "engine"):
            return
        found = {r.pop("label"): r for r in self.exported() if r.pop("kind") == "whip"}
        bags = {
            label: Counter(json.dumps(each, sort_keys=True) for each in record.pop("readings", []))
            for label, record in found.items()
        }
        assert found == self.whips
        assert bags == {label: Counter(bag) for label, bag in self.bags.items()}


Store.TestCase.settings = settings(
    max_examples=25,
    stateful_step_count=12,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    # Every attempt makes a database, so shrinking takes minutes; add Phase.shrink to hunt one down.
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
test_the_store_is_a_dictionary = Store.TestCase
