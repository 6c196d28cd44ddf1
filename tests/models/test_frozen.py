"""Values that are made quickly are those that the standard library would make."""

import copy
import inspect
import pickle
from dataclasses import FrozenInstanceError, dataclass, field, fields, replace

import pytest

from models.frozen import quickly_made


@dataclass(frozen=True, slots=True)
class Ordinary:
    """As the standard library makes it."""

    sku: str
    length_m: float
    count: int = 1
    where: tuple[str, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class Quick:
    """The same, made quickly."""

    sku: str
    length_m: float
    count: int = 1
    where: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.count} × {self.sku}"


VALUES = [(("A", 1.5), {}), (("A", 1.5, 2, ("hall",)), {}), (("A",), {"length_m": 0.0, "where": ("hall",)})]


@pytest.mark.parametrize(("args", "named"), VALUES)
def test_fields_and_defaults_are_those_of_the_ordinary_one(args: tuple[object, ...], named: dict[str, object]) -> None:
    quick, ordinary = Quick(*args, **named), Ordinary(*args, **named)  # type: ignore[arg-type]
    assert [getattr(quick, one.name) for one in fields(quick)] == [getattr(ordinary, one.name) for one in fields(Quick)]
    assert hash(quick) == hash(ordinary)
    assert repr(quick) == repr(ordinary).replace("Ordinary", "Quick")


def test_it_is_of_its_own_class_and_can_not_be_changed() -> None:
    quick = Quick("A", 1.5)
    assert type(quick) is Quick
    assert str(quick) == "1 × A"
    with pytest.raises(FrozenInstanceError):
        quick.count = 2  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        del quick.count
    with pytest.raises((AttributeError, TypeError)):
        quick.colour = "red"  # type: ignore[attr-defined]
    assert not hasattr(quick, "__dict__")


def test_equal_by_value_and_copied_as_any_other() -> None:
    quick = Quick("A", 1.5)
    assert quick == Quick("A", 1.5)
    assert quick != Quick("A", 1.6)
    assert replace(quick, count=3) == Quick("A", 1.5, 3)
    for twin in (copy.copy(quick), copy.deepcopy(quick), pickle.loads(pickle.dumps(quick))):
        assert twin == quick
        assert type(twin) is Quick


def test_it_is_called_like_the_ordinary_one() -> None:
    assert inspect.signature(Quick) == inspect.signature(Ordinary)
    for args in ((), ("A",), ("A", 1.0, 1, (), "too many")):
        with pytest.raises(TypeError) as quick:
            Quick(*args)  # type: ignore[arg-type, call-arg]
        with pytest.raises(TypeError) as ordinary:
            Ordinary(*args)  # type: ignore[arg-type, call-arg]
        assert str(quick.value) == str(ordinary.value).replace("Ordinary", "Quick")


def test_a_field_of_a_factory_is_refused() -> None:
    with pytest.raises(TypeError, match="a factory fills in notes"):

        @quickly_made
        @dataclass(frozen=True, slots=True)
        class Noted:
            notes: list[str] = field(default_factory=list)
