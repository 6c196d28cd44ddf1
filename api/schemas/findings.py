"""Findings as they go over the wire."""

from typing import Literal

from pydantic import BaseModel

from models.findings import Finding


class FindingPublic(BaseModel):
    """What an engineer would say out loud."""

    code: str
    strength: Literal["stop", "ask", "note"]
    where: str
    message: str
    source: str
    remedy: str

    @staticmethod
    def of(finding: Finding) -> "FindingPublic":
        """The public form of a finding."""
        return FindingPublic(
            code=finding.code,
            strength=finding.strength,
            where=finding.where,
            message=finding.message,
            source=finding.source,
            remedy=finding.remedy,
        )
