"""Photographs over the wire."""

from datetime import datetime

from pydantic import BaseModel

from api.store.photos import PhotoRow


class PhotoPublic(BaseModel):
    """A photograph as it is kept. `named` says whether the survey names it, null where that was not looked at."""

    name: str
    media_type: str
    sha256: str
    width_px: int
    height_px: int
    size_bytes: int
    updated_at: datetime
    named: bool | None

    @staticmethod
    def of(row: PhotoRow, *, named: bool | None) -> "PhotoPublic":
        """The public form of a photograph."""
        own = {name: getattr(row, name) for name in PhotoPublic.model_fields if name != "named"}
        return PhotoPublic(named=named, **own)
