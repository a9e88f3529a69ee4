"""A page of NiceGUI behind the gate, run as a program: python gated_page.py PORT FILE.

Writes the access code and an entry link into FILE, as a terminal would show them, and says what it logs on
standard error. Its one button tells who pressed it; at the computer itself another ends all sessions.
"""

import json
import logging
import sys
from pathlib import Path

from nicegui import app, ui
from starlette.requests import Request

from rodtrue.page.access import SERVER_OPTIONS, AccessSettings, install_access, may, viewer_of, viewer_of_client

SHOP_NAME = "bench.test"


def main(port: int, file: Path) -> None:
    logging.basicConfig(level=logging.DEBUG)
    gate = install_access(app, AccessSettings(port, (SHOP_NAME,)))

    @ui.page("/")
    def page(request: Request) -> None:
        client = ui.context.client
        said = ui.label("").mark("said").props("id=said")
        where = "here" if viewer_of(request).local else "over the network"
        ui.label(f"You look from {where}.")
        ui.button("Who am I", on_click=lambda: said.set_text("local" if viewer_of_client(client).local else "remote"))
        if may(viewer_of(request), "end_sessions"):
            ui.button("Shut out", on_click=gate.shut_out_all)

    secrets = {"code": gate.code, "links": [gate.entry_link(), gate.entry_link()], "cookie": gate.cookie}
    file.write_text(json.dumps(secrets))
    ui.run(
        host="127.0.0.1",
        port=port,
        show=False,
        reload=False,
        show_welcome_message=False,
        **SERVER_OPTIONS,
    )


if __name__ in {"__main__", "__mp_main__"}:
    main(int(sys.argv[1]), Path(sys.argv[2]))
