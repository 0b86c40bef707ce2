"""The stored records as tables. Nouns and rows meet in the use cases, not here."""

from plaitlog.models.tables.base import Base
from plaitlog.models.tables.bench import DraftRow, JobRow
from plaitlog.models.tables.cords import CordRow, CordStockRow
from plaitlog.models.tables.derived import Derived, GatheredRow
from plaitlog.models.tables.fits import FitRow
from plaitlog.models.tables.history import HistoryEntryRow, HistoryRow
from plaitlog.models.tables.layers import LayerCordRow, LayerRow, StepCountRow, StepRow
from plaitlog.models.tables.makers import MakerRow
from plaitlog.models.tables.photos import PhotoContentRow, PhotoRow
from plaitlog.models.tables.ratings import RatingSessionRow, ScoreRow
from plaitlog.models.tables.readings import ReadingRow, TurnLengthRow, WeightRow
from plaitlog.models.tables.whips import CordUseRow, WhipRow

__all__ = [
    "Base",
    "CordRow",
    "CordStockRow",
    "CordUseRow",
    "Derived",
    "DraftRow",
    "FitRow",
    "GatheredRow",
    "HistoryEntryRow",
    "HistoryRow",
    "JobRow",
    "LayerCordRow",
    "LayerRow",
    "MakerRow",
    "PhotoContentRow",
    "PhotoRow",
    "RatingSessionRow",
    "ReadingRow",
    "ScoreRow",
    "StepCountRow",
    "StepRow",
    "TurnLengthRow",
    "WeightRow",
    "WhipRow",
]
