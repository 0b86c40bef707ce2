"""Every photo out again, as one archive: a JPEG each, and a table of what each shows."""

import csv
import io
import re
import zipfile
from typing import BinaryIO, Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import PhotoContentRow, PhotoRow, WhipRow
from plaitlog.service.usecases.spreadsheets.neutral import neutral

LIST: Final = "photos.csv"
_STAMP: Final = (1980, 1, 1, 0, 0, 0)  # the earliest that an archive knows: when they were taken is not kept


def count_photos(session: Session) -> int:
    return session.scalar(select(func.count()).select_from(PhotoRow)) or 0


def photos_zip(session: Session, target: BinaryIO) -> int:
    """Write every photo of every whip as it is kept, one in memory at a time; gives how many."""
    query = (
        select(PhotoRow.id, PhotoRow.content_id, PhotoRow.caption, WhipRow.label)
        .join(WhipRow, PhotoRow.whip_id == WhipRow.id)
        .order_by(WhipRow.label, PhotoRow.id)
    )
    rows = session.execute(query).all()
    listed = io.StringIO()
    table = csv.writer(listed, lineterminator="\r\n")
    table.writerow(["file", "whip", "caption"])
    # JPEG is packed as well as it can be.
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as archive:
        for number, content, caption, label in rows:
            file = f"{_plain(label)}-{number}.jpg"
            whole = session.scalar(select(PhotoContentRow.whole).where(PhotoContentRow.id == content))
            archive.writestr(zipfile.ZipInfo(file, _STAMP), whole or b"")
            table.writerow([file, neutral(label), neutral(caption or "")])
        archive.writestr(zipfile.ZipInfo(LIST, _STAMP), listed.getvalue().encode("utf-8-sig"))
    return len(rows)


def _plain(label: str) -> str:
    """A label as part of a file's name on any system; the number behind it tells alike ones apart."""
    return re.sub(r"[^A-Za-z0-9_-]+", "-", label).strip("-")[:60] or "whip"
