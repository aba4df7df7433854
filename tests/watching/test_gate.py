"""The server as others on the machine find it: asked byte by byte, as a browser or any other program would."""

import http.client
import json
import socket
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from urllib.parse import urlsplit

import pytest

from previz.watching import Board, Wish, served


@dataclass
class Served:
    address: str
    board: Board
    wishes: list[Wish] = field(default_factory=list)

    @property
    def host(self) -> str:
        return urlsplit(self.address).netloc

    @property
    def path(self) -> str:
        return urlsplit(self.address).path

    def ask(self, path: str, method: str = "GET", body: bytes | None = None, **headers: str) -> tuple[int, bytes]:
        """The answer to a request with these headers, `host` as the address has it unless given."""
        connection = http.client.HTTPConnection(self.host, timeout=120)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        sent = {"host": self.host, **{name.replace("_", "-"): value for name, value in headers.items()}}
        if body is not None:
            sent["content-length"] = str(len(body))
        for name, value in sent.items():
            connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        self.headers = dict(answer.headers.items())
        found = answer.status, answer.read()
        connection.close()
        return found

    def wish(self, body: bytes, **headers: str) -> int:
        return self.ask(f"{self.path}wish", "POST", body, **{"origin": f"http://{self.host}", **headers})[0]


@pytest.fixture
def here() -> Iterator[Served]:
    board, found = Board(), []
    with served(board, found.append) as address:
        yield Served(address, board, found)


NOTHING = (404, b"there is nothing here\n")


def test_the_page_is_where_the_address_says(here: Served) -> None:
    status, body = here.ask(here.path)
    assert status == 200 and b"<!doctype html>" in body
    assert urlsplit(here.address).hostname == "127.0.0.1"
    assert len(here.path.strip("/")) == 32  # 24 random bytes in base 64: 192 bits
    with served(Board(), print) as other:
        assert urlsplit(other).path != here.path and urlsplit(other).port != urlsplit(here.address).port


@pytest.mark.parametrize("path", ["/", "/news", "/index.html", "/..", "/%2e%2e/", "//", "/{wrong}/", "/{wrong}/news"])
def test_without_the_token_nothing_is_there(here: Served, path: str) -> None:
    token = here.path.strip("/")
    wrong = token[:-1] + ("A" if token[-1] != "A" else "B")
    assert here.ask(path.format(wrong=wrong)) == NOTHING
    assert here.ask(here.path.rstrip("/")) == NOTHING
    assert here.ask(here.path.replace(token, token.swapcase())) == NOTHING
    assert here.ask("/%E9%FF/") == NOTHING


def test_behind_the_token_is_only_what_belongs_to_the_page(here: Served) -> None:
    for path in ("watch.js", "../watch.js", "pictures/", "pictures/../../server.py", "pictures/%2e%2e%2fserver.py",
                 "pictures//etc/passwd", "pictures/1.png", "wish", "docs", "openapi.json"):  # fmt: skip
        assert here.ask(here.path + path)[0] in (404, 405), path
    name = here.board.hang(b"picture", "png")
    assert here.ask(f"{here.path}pictures/{name}") == (200, b"picture")
    assert here.headers["content-type"] == "image/png"


@pytest.mark.parametrize("host", ["example.org", "localhost", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.example.org"])
def test_a_name_that_was_pointed_here_is_turned_away(here: Served, host: str) -> None:
    assert here.ask(here.path, host=host) == NOTHING
    assert here.ask(here.path, host=f"{host}:{urlsplit(here.address).port}.example.org") == NOTHING


def test_a_request_that_another_site_makes_is_turned_away(here: Served) -> None:
    assert here.ask(here.path, sec_fetch_site="cross-site") == NOTHING
    assert here.ask(here.path, sec_fetch_site="same-site") == NOTHING  # another port of this machine
    assert here.ask(here.path, sec_fetch_site="none")[0] == 200  # the address bar
    for origin in ("http://example.org", "null", f"https://{here.host}", "http://127.0.0.1:1"):
        assert here.wish(b'{"shot": "pass"}', origin=origin) == 404
    assert here.ask(f"{here.path}wish", "POST", b'{"shot": "pass"}') == NOTHING  # no origin at all
    assert here.wishes == []


def test_a_wish_of_the_page_is_passed_on_and_nothing_else_is(here: Served) -> None:
    assert here.wish(json.dumps({"shot": "pass", "time": 0.4}).encode()) == 204
    assert here.wish(json.dumps({"shot": "away", "time": None}).encode()) == 204
    assert here.wishes == [Wish("pass", 0.4), Wish("away")]
    for body in (b"", b"[]", b"{", b'{"shot": 3}', b'{"shot": "a", "time": "now"}', b'{"shot": "a", "time": true}',
                 b'{"shot": "a", "time": Infinity}', b'{"shot": "' + b"a" * 2000 + b'"}', b"\xff\xfe"):  # fmt: skip
        assert here.wish(body) == 400, body
    assert len(here.wishes) == 2


def test_everything_is_sent_with_a_policy_that_lets_nothing_else_load(here: Served) -> None:
    for path in (here.path, f"{here.path}pictures/none.png", "/"):
        here.ask(path)
        policy = here.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; script-src 'sha256-")
        assert "unsafe" not in policy and "http" not in policy and "*" not in policy
        assert "frame-ancestors 'none'" in policy and "form-action 'none'" in policy
        assert here.headers["referrer-policy"] == "no-referrer"
        assert here.headers["cache-control"] == "no-store"
        assert "server" not in here.headers and "access-control-allow-origin" not in here.headers


def test_only_this_machine_can_reach_it(here: Served) -> None:
    port = urlsplit(here.address).port
    assert port is not None
    # Any other address of this machine, as another one would use; 127.0.0.2 is one on Linux.
    others = {entry[4][0] for entry in socket.getaddrinfo(socket.gethostname(), port, socket.AF_INET)} | {"127.0.0.2"}
    for other in others - {"127.0.0.1"}:
        with pytest.raises(OSError), socket.create_connection((other, port), timeout=2):
            pass


@contextmanager
def listening(address: str) -> Iterator[http.client.HTTPResponse]:
    with closing(http.client.HTTPConnection(urlsplit(address).netloc, timeout=120)) as connection:
        connection.request("GET", f"{urlsplit(address).path}news")
        with closing(connection.getresponse()) as answer:
            yield answer


def told(answer: http.client.HTTPResponse) -> str:
    """The title that the next event tells."""
    line, empty = answer.readline(), answer.readline()
    assert line.startswith(b"data: ") and empty == b"\n"
    found: str = json.loads(line[6:])["title"]
    return found


def test_what_is_shown_is_told_when_it_changes_and_at_the_end(here: Served) -> None:
    with listening(here.address) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert told(answer) == ""
        here.board.show(title="Quay </script>")
        assert told(answer) == "Quay </script>"
        here.board.take_down()
        assert answer.read() == b"event: over\ndata: \n\n"


def test_nothing_is_left_when_it_ends() -> None:
    with ExitStack() as until_done:
        with served(Board(), print) as address:
            answer = until_done.enter_context(listening(address))
            told(answer)
        assert b"event: over" in answer.read()
    with pytest.raises(OSError):
        socket.create_connection(("127.0.0.1", urlsplit(address).port or 0), timeout=2)
