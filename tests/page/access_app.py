"""An application behind the gate, a clock that stands until it is moved, and browsers at chosen addresses."""

from random import Random

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.testclient import TestClient
from starlette.websockets import WebSocket, WebSocketDisconnect

from rodtrue.page.access import AccessSettings, install_access, viewer_of

PORT = 8713
SHOP_ADDRESS, SHOP_NAME = "192.0.2.20", "bench.local"
SHOP = f"http://{SHOP_ADDRESS}:{PORT}"
HERE = f"http://localhost:{PORT}"
TABLET = "192.0.2.77"


class StillClock:
    """Seconds that pass when a test says so."""

    def __init__(self):
        self.now_s = 1000.0

    def __call__(self):
        return self.now_s

    def pass_s(self, seconds):
        self.now_s += seconds


def gated_app(shop_names=(SHOP_ADDRESS, SHOP_NAME), seed=1):
    """Return an application behind a gate, the gate and its clock."""
    app = Starlette(routes=[Route("/", who), Route("/change", change, methods=["POST"]), WebSocketRoute("/ws", echo)])
    clock = StillClock()
    gate = install_access(app, AccessSettings(PORT, shop_names), clock=clock, random=Random(seed))
    return app, gate, clock


async def who(request: Request) -> Response:
    viewer = viewer_of(request)
    return JSONResponse(
        {"local": viewer.local, "address": viewer.address}, headers={"access-control-allow-origin": "*"}
    )


async def change(request: Request) -> Response:
    return JSONResponse({"changed": True})


async def echo(socket: WebSocket) -> None:
    await socket.accept()
    try:
        while True:
            await socket.send_text(await socket.receive_text())
    except WebSocketDisconnect:
        pass


def browser(app, origin=SHOP, address=TABLET):
    """Return a browser whose page was loaded from `origin`; it follows no redirect by itself."""
    return TestClient(app, base_url=origin, client=(address, 50000), follow_redirects=False)


def enter(client, origin=SHOP, **fields):
    """Post the entry form as its own page does."""
    return client.post("/enter", data=fields, headers={"origin": origin})


def open_socket(client, **headers):
    """Open the websocket beside the page that this browser loaded, with its Origin unless told otherwise."""
    page = str(client.base_url).rstrip("/")
    return client.websocket_connect(page.replace("http", "ws", 1) + "/ws", headers={"origin": page} | headers)
