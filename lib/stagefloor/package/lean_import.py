"""Keeps one slow optional package out of the imports of nbclient and nbconvert.

Through jsonschema they import `rfc3987_syntax`, which builds grammar parsers for two seconds. It serves only the
'iri' format checks of JSON schemas, which no notebook file uses, and jsonschema does without it when it is missing.
Import this module before nbclient and nbconvert. It changes nothing if the package is loaded already.
"""

import sys
from typing import Any, cast

UNWANTED = "rfc3987_syntax"

if UNWANTED not in sys.modules:
    cast("dict[str, Any]", sys.modules)[UNWANTED] = None
