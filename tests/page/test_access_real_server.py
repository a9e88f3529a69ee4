"""The gate before the page's real server: sockets by hand, and a real browser on both sides of it."""

import urllib.error
import urllib.parse
import urllib.request

import pytest

from page.real_page import SHOP_NAME, chromium, handshake, served

pytestmark = pytest.mark.slow
SOCKET = "/_nicegui_ws/socket.io/?EIO=4"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    # The variable would have the server believe who a forwarding header names, were it not told otherwise.
    with served(tmp_path_factory.mktemp("page"), FORWARDED_ALLOW_IPS="*") as running:
        yield running


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_):
        return None


def ask(page, path="/", data=None, **headers):
    """Return status, headers and body of a request to the server, at its loopback address."""
    form = None if data is None else urllib.parse.urlencode(data).encode()
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    request = urllib.request.Request(f"http://127.0.0.1:{page.port}{path}", form, named)
    try:
        with urllib.request.build_opener(_NoRedirect).open(request, timeout=30) as answer:
            return answer.status, answer.headers, answer.read().decode(errors="replace")
    except urllib.error.HTTPError as answer:
        with answer:
            return answer.code, answer.headers, answer.read().decode(errors="replace")


def test_the_live_socket_opens_for_the_pages_own_origin_only(page):
    host = f"Host: localhost:{page.port}"
    assert handshake(page.port, host, f"Origin: {page.here}") == 101
    for origin in ([], ["Origin: null"], ["Origin: http://evil.example"], [f"Origin: http://127.0.0.1:{page.port}"]):
        assert handshake(page.port, host, *origin) == 403
    assert handshake(page.port, "Host: evil.example", "Origin: http://evil.example") == 403
    assert handshake(page.port, f"Host: {SHOP_NAME}:{page.port}", f"Origin: {page.shop}") == 403


def test_the_live_connection_by_polling_is_refused_to_another_sites_page(page):
    polling = f"{SOCKET}&transport=polling"
    assert ask(page, polling)[0] == 200
    status, headers, _ = ask(page, polling, Origin="http://evil.example")
    assert status == 403
    assert headers["Access-Control-Allow-Origin"] is None
    assert ask(page, polling, Host="evil.example")[0] == 421
    assert ask(page, polling, Host=f"{SHOP_NAME}:{page.port}")[0] == 401


def test_a_forwarding_header_makes_nobody_local_whatever_the_servers_environment_says(page):
    shop = f"{SHOP_NAME}:{page.port}"
    for name in ("X_Forwarded_For", "Forwarded", "X_Real_IP"):
        assert ask(page, Host=shop, **{name: "127.0.0.1"})[0] == 401
        assert ask(page, Host=f"localhost:{page.port}", **{name: "127.0.0.1"})[0] == 401


def test_nothing_of_the_pages_files_is_served_before_the_code(page):
    shop = f"{SHOP_NAME}:{page.port}"
    _, _, own = ask(page)
    named = {part for part in own.split('"') if part.startswith("/_nicegui/")}
    files = [path for path in named if ask(page, path)[0] == 200]
    assert len(files) > 3
    assert {ask(page, path, Host=shop)[0] for path in files} == {401}


def test_neither_code_nor_token_nor_session_is_in_what_the_server_says(page, tmp_path):
    with served(tmp_path) as other:
        host, origin = f"{SHOP_NAME}:{other.port}", other.shop
        token = other.links[0].partition("#")[2]
        assert ask(other, "/enter", {"code": "AAAA-AAAA"}, Host=host, Origin=origin)[0] == 403
        status, headers, _ = ask(other, "/enter", {"code": other.code}, Host=host, Origin=origin)
        assert status == 303
        session = headers["Set-Cookie"].partition("=")[2].partition(";")[0]
        assert ask(other, "/enter", {"token": token}, Host=host, Origin=origin)[0] == 303
        ask(other, f"/enter?code={other.code}", Host=host)
        ask(other, f"/{other.code}?token={token}", Host=host)
        cookie = f"Cookie: {other.cookie}={session}"
        assert handshake(other.port, f"Host: {host}", f"Origin: {origin}", cookie) == 101
        said = other.said()
    assert "a wrong access code was entered from 127.0.0.1" in said
    for secret in (other.code, other.code.replace("-", ""), token, session):
        assert secret not in said


def test_a_tablet_comes_in_by_code_and_stays_a_guest(tmp_path):
    with served(tmp_path) as page, chromium() as browser:
        tablet = browser.new_context().new_page()
        tablet.goto(page.shop)
        assert tablet.url == f"{page.shop}/enter"
        assert "Not encrypted" in tablet.inner_text("body")
        tablet.get_by_label("Access code").fill("AAAA-AAAA")
        tablet.keyboard.press("Enter")
        tablet.get_by_role("alert").filter(has_text="That code is wrong").wait_for()
        tablet.get_by_label("Access code").fill(page.code.lower())
        tablet.get_by_role("button", name="Enter").click()
        tablet.get_by_text("You look from over the network.").wait_for()
        assert page.code not in tablet.url
        tablet.get_by_role("button", name="Who am I").click()
        tablet.get_by_text("remote", exact=True).wait_for()
        assert tablet.get_by_role("button", name="Shut out").count() == 0
        assert tablet.evaluate("document.cookie") == ""
        [cookie] = tablet.context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")


def test_a_qr_codes_link_opens_once_and_leaves_no_token_behind(tmp_path):
    with served(tmp_path) as page, chromium() as browser:
        sent = []
        first, second = browser.new_context().new_page(), browser.new_context().new_page()
        first.on("request", lambda request: sent.append(request.url))
        first.goto(page.links[0])
        first.get_by_text("You look from over the network.").wait_for()
        token = page.links[0].partition("#")[2]
        assert token not in first.url
        assert not [url for url in sent if token in url]
        first.go_back()
        assert token not in first.url
        second.goto(page.links[0])
        second.get_by_role("alert").filter(has_text="has been used").wait_for()


def test_at_the_computer_itself_one_is_local_and_can_shut_the_others_out(tmp_path):
    with served(tmp_path) as page, chromium() as browser:
        tablet, laptop = browser.new_context().new_page(), browser.new_context().new_page()
        tablet.goto(page.links[0])
        tablet.get_by_text("You look from over the network.").wait_for()
        laptop.goto(page.here)
        laptop.get_by_role("button", name="Who am I").click()
        laptop.get_by_text("local", exact=True).wait_for()
        laptop.get_by_role("button", name="Shut out").click()
        laptop.get_by_role("button", name="Who am I").click()
        laptop.get_by_text("local", exact=True).wait_for()
        tablet.reload()
        tablet.get_by_label("Access code").wait_for()


TRY_SOCKET = """url => new Promise(done => {
    const socket = new WebSocket(url);
    socket.onopen = () => done("opened");
    socket.onerror = () => done("refused");
})"""


def test_another_sites_page_in_the_same_browser_reaches_nothing(tmp_path):
    with served(tmp_path) as page, chromium() as browser:
        live = f"ws://localhost:{page.port}{SOCKET}&transport=websocket"
        own, evil = browser.new_context().new_page(), browser.new_context().new_page()
        own.goto(page.here)
        assert own.evaluate(TRY_SOCKET, live) == "opened"
        evil.route("http://evil.example/", lambda route: route.fulfill(body="<p>bait</p>", content_type="text/html"))
        evil.goto("http://evil.example/")
        assert evil.evaluate(TRY_SOCKET, live) == "refused"
        assert evil.evaluate("url => fetch(url).then(() => 'read', () => 'refused')", page.here) == "refused"
