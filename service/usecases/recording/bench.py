"""What the recording dialogue knows beforehand, from the workshop."""

import datetime as dt

from sqlalchemy.orm import Session

from plaitlog.service.usecases.loading import load_stock, whip_keys
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.recording.dialogue import Bench
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name, last_whip, makers


def bench_of(session: Session, units: ShownUnits | None) -> Bench:
    """The labels, makers and cords there are, the last whip, the day, the fit in force."""
    return Bench(
        today=dt.datetime.now().astimezone().date(),
        labels=frozenset(whip_keys(session)),
        makers=tuple(makers(session)),
        cords=cords_by_name(session),
        lots=_lots(session),
        last=last_whip(session),
        units=units,
        in_force=fit_in_force(session),
    )


def _lots(session: Session) -> dict[str, tuple[str, ...]]:
    """Lots in stock by cord, the one noted last first."""
    found: dict[str, dict[str, None]] = {}
    for stock in reversed(load_stock(session).values()):
        if stock.lot is not None:
            found.setdefault(stock.cord, {})[stock.lot] = None
    return {cord: tuple(lots) for cord, lots in found.items()}
