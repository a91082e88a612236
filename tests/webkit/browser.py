"""The second engine with a profile on the disk: `python -m tests.webkit.browser`.

The small browser that comes with WebKitGTK forgets everything when it is driven by a
test, as a private window does. This one is a window, the engine and a folder, so that a
test may kill it and find again what it kept. It is started by the engine's own driver.
"""

from __future__ import annotations

import sys
from ctypes import CDLL, CFUNCTYPE, c_char_p, c_int, c_void_p
from pathlib import Path

ENGINE = "libwebkit2gtk-4.1.so.0"
# What the driver asks for by name.
NAME, VERSION = b"MiniBrowser", (2, 0, 0)
IN_A_FILE = 1
PHONE = 390, 844

Started = CFUNCTYPE(None, c_void_p, c_void_p, c_void_p)
Asked = CFUNCTYPE(c_void_p, c_void_p, c_void_p)


def open_browser(folder: Path | None) -> None:
    """Open windows for whoever drives it, and keep what pages keep in a folder.

    Without a folder they are private windows: what is kept is gone with the browser.
    """
    toolkit, engine, objects = map(
        CDLL, ("libgtk-3.so.0", ENGINE, "libgobject-2.0.so.0")
    )
    for name in (
        "webkit_website_data_manager_new",
        "webkit_website_data_manager_get_cookie_manager",
        "webkit_web_context_new_with_website_data_manager",
        "webkit_application_info_new",
    ):
        getattr(engine, name).restype = c_void_p
    engine.webkit_web_view_get_type.restype = c_void_p
    objects.g_object_new.restype = toolkit.gtk_window_new.restype = c_void_p

    def listen(instance: int, to: bytes, answer: object) -> None:
        objects.g_signal_connect_data(
            c_void_p(instance), c_char_p(to), answer, None, None, c_int(0)
        )

    toolkit.gtk_init(None, None)
    context = with_folder(engine, folder) if folder else private(engine)
    engine.webkit_web_context_set_automation_allowed(c_void_p(context), c_int(1))

    def view_for(_session: int, _nothing: int) -> int:
        view = objects.g_object_new(
            c_void_p(engine.webkit_web_view_get_type()),
            c_char_p(b"web-context"),
            c_void_p(context),
            c_char_p(b"is-controlled-by-automation"),
            c_int(1),
            None,
        )
        window = toolkit.gtk_window_new(c_int(0))
        toolkit.gtk_window_set_default_size(c_void_p(window), *map(c_int, PHONE))
        toolkit.gtk_container_add(c_void_p(window), c_void_p(view))
        toolkit.gtk_widget_show_all(c_void_p(window))
        return view

    asked = Asked(view_for)

    def introduce(_context: int, session: int, _nothing: int) -> None:
        info = engine.webkit_application_info_new()
        engine.webkit_application_info_set_name(c_void_p(info), c_char_p(NAME))
        engine.webkit_application_info_set_version(c_void_p(info), *map(c_int, VERSION))
        engine.webkit_automation_session_set_application_info(
            c_void_p(session), c_void_p(info)
        )
        listen(session, b"create-web-view", asked)

    started = Started(introduce)
    listen(context, b"automation-started", started)
    toolkit.gtk_main()


def private(engine: CDLL) -> int:
    engine.webkit_web_context_new_ephemeral.restype = c_void_p
    return engine.webkit_web_context_new_ephemeral()


def with_folder(engine: CDLL, folder: Path) -> int:
    manager = engine.webkit_website_data_manager_new(
        c_char_p(b"base-data-directory"),
        c_char_p(bytes(folder / "data")),
        c_char_p(b"base-cache-directory"),
        c_char_p(bytes(folder / "cache")),
        None,
    )
    cookies = engine.webkit_website_data_manager_get_cookie_manager(c_void_p(manager))
    engine.webkit_cookie_manager_set_persistent_storage(
        c_void_p(cookies), c_char_p(bytes(folder / "cookies")), c_int(IN_A_FILE)
    )
    return engine.webkit_web_context_new_with_website_data_manager(c_void_p(manager))


if __name__ == "__main__":
    open_browser(Path(sys.argv[1]) if sys.argv[1:] else None)
