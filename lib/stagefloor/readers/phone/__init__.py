"""One self-contained page for a phone from a sheet's record: script, style and data inside, nothing fetched.

The page may run its own script and nothing else: the digests of script and style stand in its security policy.
"""

from base64 import b64encode
from hashlib import sha256
from pathlib import Path

from stagefloor.drawings.plain import Plain
from stagefloor.drawings.svg import clean

HERE = Path(__file__).parent
SCRIPTS = {kind: ("base.js", "pictures.js", "export.js", f"{kind}.js") for kind in ("survey", "site")}
# what would end or open a script element, or end a line of a script, inside the data
NEUTRAL = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


def page(kind: str, title: str, record: Plain, language: str = "en-GB") -> str:
    """The page of a sheet as text. `kind`: 'survey' or 'site'; `record`: its file; `language`: its tag."""
    script = "\n".join((HERE / name).read_text("utf-8") for name in SCRIPTS[kind])
    style = (HERE / "base.css").read_text("utf-8")
    data = record.model_dump_json().translate(NEUTRAL)
    policy = (f"default-src 'none'; script-src {_digest(script)}; style-src {_digest(style)}; img-src data: blob:; "
              "base-uri 'none'; form-action 'none'")
    return f"""<!DOCTYPE html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<meta name="robots" content="noindex">
<title>{clean(title)}</title>
<style>{style}</style>
</head>
<body data-kind="{kind}">
<main id="here"><p>This sheet needs a browser that runs its script. On a phone, open the file with the browser, not in
the preview of the mail.</p></main>
<script type="application/json" id="given">{data}</script>
<script>{script}</script>
</body>
</html>
"""


def _digest(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"
