"""The base of every record that is drawn or handed to a reader: named fields, plain values, no more, no change."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Metres = Annotated[float, Field(allow_inf_nan=False)]
XY = tuple[Metres, Metres]


class Plain(BaseModel):
    """A frozen record that refuses a field it does not name, so that nothing travels along unseen."""

    model_config = ConfigDict(frozen=True, extra="forbid")
