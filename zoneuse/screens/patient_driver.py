"""A terminal whose bytes are not all UTF-8: such a byte is a key that means nothing, and ends no session."""

from __future__ import annotations

from functools import partial

from textual._xterm_parser import XTermParser
from textual.driver import Driver

NO_TEXT = "A key sent no UTF-8 and was left out. Set the terminal to UTF-8 to type such letters."


def patient(driver: type[Driver]) -> type[Driver]:
    """The driver an app would use, made to read on behind bytes that are no text. Others stay as they are."""
    try:
        from textual.drivers.linux_driver import LinuxDriver
    except ImportError:  # Windows hands over letters, not bytes
        return driver
    if driver is not LinuxDriver:
        return driver

    class PatientDriver(LinuxDriver):
        told = False

        def run_input_thread(self) -> None:
            while not self.exit_event.is_set():
                try:
                    super().run_input_thread()
                except UnicodeDecodeError as error:
                    if not self.told:
                        self.told = True
                        self._app.call_later(partial(self._app.notify, NO_TEXT, severity="warning"))
                    # What arrived in one bundle with it was typed too.
                    for event in XTermParser(self._debug).feed(error.object.decode("utf-8", "replace")):
                        self.process_message(event)

    return PatientDriver
