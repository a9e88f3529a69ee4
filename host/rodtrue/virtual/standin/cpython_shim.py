"""Runs the child under CPython where no MicroPython exists for the platform: thin shims, same files.

What it says of itself is `cpython-shim`. Nothing here shows whether firmware code allocates.
"""

import builtins
import gc
import os
import sys
import traceback
import types


class _RawFile:
    """A file descriptor read and written as MicroPython's unbuffered files are."""

    def __init__(self, fd, _mode):
        self._fd = fd

    def fileno(self):
        return self._fd

    def readinto(self, data, count):
        view = memoryview(data)[:count]
        done = 0
        while done < count:
            got = os.readv(self._fd, [view[done:]])
            if got == 0:
                break
            done += got
        return done

    def write(self, data, start=0, count=None):
        view = memoryview(data)[start : len(data) if count is None else start + count]
        done = 0
        while done < len(view):
            done += os.write(self._fd, view[done:])
        return done


class _Bytes:
    """viper's ptr8: stores keep the low eight bits."""

    def __init__(self, data):
        self._data = data

    def __getitem__(self, at):
        return self._data[at]

    def __setitem__(self, at, value):
        self._data[at] = value & 0xFF


def _as_it_is(value):
    return value


def _install():
    micropython = types.ModuleType("micropython")
    micropython.const = _as_it_is
    micropython.native = _as_it_is
    micropython.viper = _as_it_is
    micropython.heap_lock = lambda: 0
    micropython.heap_unlock = lambda: 0
    sys.modules["micropython"] = micropython
    builtins.ptr8 = _Bytes
    # CPython knows no such number: about what a board has left.
    gc.mem_free = lambda: 131072
    sys.print_exception = lambda error, file: traceback.print_exception(error, file=file)


if __name__ == "__main__":
    _install()
    library = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    own_paths = sys.path[1:]
    sys.path.insert(0, library)
    from standin import start

    start.main(library, _RawFile, own_paths)
