"""Photos of whips as the server takes and answers them; pictures themselves are sent as they are."""

from typing import Annotated

from pydantic import Field

from plaitlog.service.schemas.answers import KeyedOut, PageOut
from plaitlog.service.schemas.wanted import Wanted


class PhotoOut(KeyedOut):
    """A photo of a whip."""

    whip: str = Field(description="Label of the whip.")
    caption: str | None = Field(description="What is written under it; null: nothing.")
    width: int = Field(ge=1, description="Width of the picture as it is kept, pixels.")
    height: int = Field(ge=1, description="Height of the picture as it is kept, pixels.")
    picture: str = Field(description="Address of the picture, a JPEG.")


class PhotosPage(PageOut):
    """A page of the list of photos."""

    items: list[PhotoOut] = Field(description="Photos in order of entry.")


class PhotoChanges(Wanted):
    """What can be changed of a photo."""

    caption: str | None = Field(None, description="What to write under it, at most 500 characters.")


class PhotoEdit(Wanted):
    """An edit of a photo."""

    version: Annotated[int, Field(ge=0, le=2**31 - 1)] = Field(
        description="The version that was read; an older one than stored is refused with both values."
    )
    changes: PhotoChanges = Field(description="A caption that is given replaces, null erases.")
