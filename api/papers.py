"""Papers and what-ifs of one estimate. Without database and service, so that the terminal has them at once."""

import json
import random
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from api.store.seed_files import SEED_FOLDER, contents_of_folder
from models.days import day_papers, papers_document, what_if_document, what_ifs, works_of
from models.estimate import Estimate
from models.labour.sheets import FirstUsed, first_used
from models.labour.what_if import Works
from models.rules import Rules

_SEED = 20_260_101
"""The rain of every answer is drawn from the same seed, so that the same works have the same answer everywhere."""
_MOST_KEPT = 64


def first_used_of_files(rules: Rules, folder: Path = SEED_FOLDER) -> FirstUsed:
    """The tasks that need the parts of each group of the price list first, as the firm's files have them."""
    return first_used(contents_of_folder(folder)["labour_tasks"]["first_used"], rules.labour)


def papers_of(document: dict[str, Any], used: FirstUsed) -> dict[str, Any] | None:
    """Day sheets, pick lists, delivery checks and the customer's sentence of a document; None without a plan."""
    return papers_document(day_papers(document, used))


def priced_on(document: dict[str, Any]) -> date:
    """The day by whose rules a document was worked out."""
    return date.fromisoformat(document["basis"]["priced_on"])


def what_if_of(worked_out: Estimate, used: FirstUsed) -> list[dict[str, Any]]:
    """What rain, a damaged part, a late trade and another concrete would do; nothing where there is no plan."""
    works = works_of(worked_out)
    if works is None:
        return []
    house = worked_out.survey.house
    month = worked_out.works_start_on.month
    return json.loads(_asked(works, tuple(used.items()), house.nation, house.climate_region, month))  # type: ignore[no-any-return]


@lru_cache(maxsize=_MOST_KEPT)
def _asked(
    works: Works, used: tuple[tuple[str, tuple[str, ...]], ...], nation: str, climate_region: int, month: int
) -> str:
    """The answers as text: some seconds of work for the same works once."""
    groups: FirstUsed = dict(used)
    answers = what_ifs(
        works,
        groups,
        nation=nation,
        climate_region=climate_region,
        month=month,
        uniform=random.Random(_SEED).random,
    )
    return json.dumps(what_if_document(answers))
