"""The whip that was broken off: one file per database in the user's folder, written after every answer."""

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from plaitlog.service.settings import data_folder
from plaitlog.service.usecases.recording.dialogue import Draft
from plaitlog.service.usecases.recording.record import from_json, to_json


@dataclass(frozen=True, slots=True)
class DraftFile:
    """Where a draft is kept."""

    path: Path

    def read(self) -> Draft | None:
        """The draft, None where there is none; one that cannot be read is put aside, not thrown away."""
        try:
            return from_json(json.loads(self.path.read_text("utf-8")))
        except FileNotFoundError:
            return None
        except (ValueError, TypeError, AttributeError):
            self.set_aside()
            return None

    def write(self, draft: Draft) -> None:
        """Keep a draft: the file is whole at every moment, also when the power fails."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        part = self.path.with_suffix(".part")
        with part.open("w", encoding="utf-8") as stream:
            json.dump(to_json(draft), stream, ensure_ascii=False)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(self.path)

    def set_aside(self) -> bool:
        """Move a draft out of the way; whether there was one."""
        if not self.path.exists():
            return False
        number = 1
        while (aside := self.path.with_name(f"{self.path.stem}-{number}.json")).exists():
            number += 1
        self.path.replace(aside)
        return True

    def remove(self) -> None:
        self.path.unlink(missing_ok=True)


def draft_file(database: str) -> DraftFile:
    """The draft that belongs to a database."""
    named = hashlib.sha256(database.encode()).hexdigest()[:8]
    return DraftFile(data_folder() / "drafts" / f"record-{named}.json")
