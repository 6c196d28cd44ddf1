"""What an engineer would say out loud about a survey or a design."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from models.frozen import quickly_made

Strength = Literal["stop", "ask", "note"]
_ORDER = {"stop": 0, "ask": 1, "note": 2}


@quickly_made
@dataclass(frozen=True, slots=True)
class Finding:
    """One remark: *stop* cannot be issued, *ask* needs a named person to accept it, *note* is printed.

    `code` is a permanent name in lower case with underscores; `where` names the room, position or object as the
    surveyor knows it; `message` says what is the matter with its numbers; `remedy` says what would mend it.
    """

    code: str
    strength: Strength
    where: str
    message: str
    source: str = ""
    remedy: str = ""

    def __hash__(self) -> int:
        """By its message, which says most: repeats are looked for in every estimate; what is equal has the same."""
        return hash(self.message)


def sorted_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings without repeats, the strongest first, otherwise in the order in which they were made."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: _ORDER[finding.strength]))


def has_stop(findings: Iterable[Finding]) -> bool:
    """Whether one of the findings forbids issuing a quote."""
    return any(finding.strength == "stop" for finding in findings)
