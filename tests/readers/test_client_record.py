"""The client's file takes what it names and nothing else."""

import pytest
from package.sample import sample
from pydantic import BaseModel, ValidationError

from stagefloor.core.workings import Basis, Value, Working
from stagefloor.readers.client.record import ClientFile, ShownWorking


def test_round_trip():
    assert ClientFile.model_validate_json(sample().model_dump_json()) == sample()


def _records(model, seen):
    for field in model.model_fields.values():
        stack = [field.annotation]
        while stack:
            kind = stack.pop()
            stack += getattr(kind, "__args__", ())
            if isinstance(kind, type) and issubclass(kind, BaseModel) and kind not in seen:
                seen.add(kind)
                _records(kind, seen)
    return seen


RECORDS = sorted(_records(ClientFile, {ClientFile}), key=lambda m: m.__name__)


@pytest.mark.parametrize("model", RECORDS, ids=lambda m: m.__name__)
def test_every_record_in_it_is_frozen_and_refuses_unknown_fields(model):
    assert model.model_config["extra"] == "forbid"
    assert model.model_config["frozen"] is True


def test_an_unknown_field_is_refused_deep_down():
    data = sample().model_dump()
    data["boxes"][0]["openings"][0]["buying_price"] = "12"
    with pytest.raises(ValidationError, match="buying_price"):
        ClientFile.model_validate(data)


def test_no_field_is_named_like_a_secret():
    """The words by which a cost build-up, hours or an internal remark would be called.

    A working's 'margin' is the distance to a limit in ohms or metres, not money.
    """
    names = {name for model in RECORDS if model is not ShownWorking for name in model.model_fields}
    assert len(names) > 50
    for word in ("cost", "margin", "hour", "markup", "supplier", "discount", "buy", "contingency", "p80", "office"):
        assert not [n for n in names if word in n.lower()]


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_numbers_that_are_none_are_refused(bad):
    data = sample().model_dump()
    data["scene"]["points"][0]["x"] = bad
    with pytest.raises(ValidationError):
        ClientFile.model_validate(data)


def test_a_working_of_the_core_fits_field_by_field():
    working = Working("Length", "L = a + b", (Value("a", "first", 1.0, "m"),), Value("L", "length", 3.0, "m"),
                      (Basis("arithmetic"),), limit=Value("", "longest", 5.0, "m"), notes=("n",),
                      also=(Value("", "other", 2.0, "m"),))
    assert ShownWorking.model_validate(working.as_data()).result.amount == 3.0
