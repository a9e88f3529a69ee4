"""The child process: makes a board around the firmware files and runs them unchanged.

Started by an interpreter with two arguments, the descriptors of its pipes (no longer ones: an argument
of 256 bytes ends MicroPython). The settings come as the first message, a JSON object: firmware,
ticks_start_us, X is the board's flash.
"""

import json
import sys


def _text_of(error):
    import io

    text = io.StringIO()
    sys.print_exception(error, text)
    return text.getvalue()


def _open_fd(fd, mode):
    return open(fd, mode, buffering=0)


class _Implementation:
    def __init__(self, name):
        self.name = name
        self.version = sys.implementation.version


class _Sys:
    """Stands in for the module `sys`."""

    def __init__(self, line, stream, interpreter):
        self.stdin = stream(line)
        self.stdout = stream(line)
        self.stderr = self.stdout
        self.implementation = _Implementation(interpreter or sys.implementation.name)
        self.platform = "" if interpreter else sys.platform
        self.modules = sys.modules
        self.path = sys.path
        self.maxsize = sys.maxsize


class _Micropython:
    """Stands in for the module `micropython`: the board's, with the line's own interrupt character."""

    def __init__(self, real, line):
        self.const = real.const
        self.heap_lock = real.heap_lock
        self.heap_unlock = real.heap_unlock
        # Decorators of these names are the compiler's; as attributes only the shims have them.
        self.native = getattr(real, "native", None)
        self.viper = getattr(real, "viper", None)
        self._line = line

    def kbd_intr(self, character):
        self._line.interrupt_character = character

    def alloc_emergency_exception_buf(self, size):
        pass


def _run(path):
    with open(path) as source:
        exec(compile(source.read(), path, "exec"), {"__name__": "__main__"})


def _tell_kind():
    """Tell the board shell the one thing it cannot know of itself: on what it runs."""
    import board
    import table

    board.Board.kind = table.KIND_VIRTUAL


def _run_program(firmware, line):
    """Run boot.py and main.py as the board does: whatever boot.py did, main.py follows."""
    for task in (_tell_kind, lambda: _run(firmware + "/boot.py"), lambda: _run(firmware + "/main.py")):
        try:
            task()
        except (Exception, KeyboardInterrupt) as error:
            line.text(_text_of(error))


def main(library, open_fd=_open_fd, own_paths=()):
    """Make the board, run the program, then sit at the prompt.

    library: the folder above this one. own_paths: where the interpreter has modules of its own.
    """
    sys.path[:] = [library] + list(own_paths)
    import builtins

    import micropython
    from standin import console, hardware, prompt
    from standin.channel import Channel
    from standin.clock import Clock

    channel = Channel(open_fd, int(sys.argv[1]), int(sys.argv[2]))
    config = json.loads(channel.settings())
    clock = Clock(channel, config["ticks_start_us"], config["switches"])
    clock.scratch = config["scratch"]
    line = console.Line(channel, clock, config["window"], config["stalls"])
    clock.console = lambda text, error: line.text(text + _text_of(error))
    lines = hardware.Lines(clock, channel, config["wiring"])
    unique_id = bytes(int(config["unique_id"][at : at + 2], 16) for at in range(0, 16, 2))

    sys.modules["machine"] = hardware.make_machine(lines, config["reset_cause"], unique_id)
    sys.modules["time"] = hardware.Time(clock)
    sys.modules["select"] = console.Select()
    sys.modules["micropython"] = _Micropython(micropython, line)
    sys.modules["sys"] = _Sys(line, console.Stream, config["interpreter"])
    builtins.print = lambda *values: line.text(" ".join(str(value) for value in values) + "\n")
    sys.path[:] = [config["firmware"]] + list(own_paths)

    channel.begin()
    _run_program(config["firmware"], line)
    prompt.run(channel, clock, line)


if __name__ == "__main__":
    main(sys.argv[0][: -len("/standin/start.py")])
