"""What every record has: a stable id, a noun for people, and fields that describe themselves."""

from typing import ClassVar

from pydantic import BaseModel, ConfigDict, model_validator

from stagefloor.core.problems import Problem
from stagefloor.core.words import several
from stagefloor.job.fields import check_choice, extra_of, shape_of


class Record(BaseModel):
    """One line of the job file. Frozen: a change makes a new record with the same id.

    Class attributes: `kind` (the name in the file), `noun` (for people), `nouns` (for several, where the ending of the
    first word does not tell), `step` (the step that owns it), `name_field` (the field by which people know it).
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    kind: ClassVar[str] = ""
    noun: ClassVar[str] = ""
    nouns: ClassVar[str] = ""
    step: ClassVar[str] = ""
    name_field: ClassVar[str] = "label"
    id: str = ""

    @model_validator(mode="before")
    @classmethod
    def _known_choices(cls, data: object) -> object:
        if not isinstance(data, dict):
            return data
        fixed = dict(data)
        for key, value in data.items():
            info = cls.model_fields.get(key)
            if info is not None and shape_of(info) == "choice":
                word, choices = "" if value is None else str(value), extra_of(info, "choices")
                if not word.strip() and "" not in choices:
                    del fixed[key]  # nothing chosen: back to the default
                    continue
                try:
                    fixed[key] = check_choice(word.strip(), choices, info.title or key, extra_of(info, "also"))
                except Problem as problem:
                    raise ValueError(f"{key}\0{problem.sentence}") from None
        return fixed

    @property
    def name(self) -> str:
        """What people call it; its id if it has no name yet."""
        return str(getattr(self, self.name_field, "") or self.id)

    @classmethod
    def several(cls) -> str:
        """The noun for more than one: floor boxes, dates of the job."""
        return cls.nouns or several(cls.noun)
