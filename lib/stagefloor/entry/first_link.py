"""A link that leads to the job once: a browser is started with it, so that no list of processes shows the token."""

import json
import secrets
import urllib.request
from typing import Any
from urllib.parse import urlsplit

from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.base.handlers import JupyterHandler
from tornado.web import HTTPError, authenticated

PATH = "/first/"
PATIENCE = 3.0  # seconds for an answer of a server on this computer
USED = "This link has been used. Take the address from the window in which the job was opened."


class FirstLinks:
    """The links of one server that nobody has used yet."""

    def __init__(self) -> None:
        self.waiting: dict[str, str] = {}  # key -> the address it leads to

    def to(self, address: str) -> str:
        """A link that leads to `address`, whole and with its token, once."""
        key = secrets.token_urlsafe(24)
        self.waiting[key] = address
        return _server_of(address) + PATH + key

    def serve(self, web_app: Any) -> None:
        """Answer these links in a Jupyter server's application."""
        web_app.add_handlers(".*$", [(f"{PATH}(.*)", _Lead, {"links": self})])


class _Lead(JupyterHandler):
    links: FirstLinks

    def initialize(self, links: FirstLinks) -> None:
        self.links = links

    @allow_unauthenticated
    def get(self, key: str) -> None:
        address = self.links.waiting.pop(key, None)
        if address is not None:
            self.redirect(address)
            return
        self.set_status(410)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(USED)

    @authenticated
    def post(self, _key: str) -> None:
        """A further link, for who knows the token; it leads nowhere but to this server."""
        address = str((self.get_json_body() or {}).get("address"))
        if _server_of(address) != f"{self.request.protocol}://{self.request.host}":
            raise HTTPError(400)
        self.finish({"link": self.links.to(address)})


def ask(address: str, path: str, body: dict[str, str] | None = None) -> bytes:
    """What the server that runs at `address` answers there, asked with its token; OSError or ValueError if it does not."""
    asked = urllib.request.Request(_server_of(address) + path, data=json.dumps(body).encode() if body else None,
                                   headers={"Authorization": f"token {address.split('token=')[1]}"})
    with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(asked, timeout=PATIENCE) as answer:
        return bytes(answer.read())


def another(address: str) -> str:
    """A further link to `address`, asked of the server that runs there; `address` itself if it gives none."""
    try:
        link = str(json.loads(ask(address, PATH, {"address": address}))["link"])
    except (OSError, ValueError, KeyError, TypeError):  # a server of an older version knows no such links
        return address
    return link if link.startswith(_server_of(address) + PATH) else address


def _server_of(address: str) -> str:
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc}"
