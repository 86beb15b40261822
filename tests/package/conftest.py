"""One document set of the invented sample for all tests that only look at it."""

import pytest
from package.sample import sample

from stagefloor.package import build_from_file


@pytest.fixture(scope="session")
def built(tmp_path_factory):
    return build_from_file(sample(), tmp_path_factory.mktemp("sets") / "client")
