"""Who may look at the bench page and who may not: one middleware in front of everything the page serves.

    gate = install_access(app, AccessSettings(port=8713, shop_names=("192.168.1.20",)))
    ui.run(host=gate.settings.bind_address, port=8713, **SERVER_OPTIONS)

Then, in a page: `may(viewer_of(request), "delete")`, or `viewer_of_client(client)` in an event of NiceGUI's.
"""

from rodtrue.page.access.addresses import shop_addresses
from rodtrue.page.access.gate import AccessSettings, Gate
from rodtrue.page.access.middleware import SERVER_OPTIONS, install_access, viewer_of, viewer_of_client
from rodtrue.page.access.rights import Action, Viewer, may

__all__ = [
    "SERVER_OPTIONS",
    "AccessSettings",
    "Action",
    "Gate",
    "Viewer",
    "install_access",
    "may",
    "shop_addresses",
    "viewer_of",
    "viewer_of_client",
]
