"""On the path of a decoding process: frames that end in certain bytes kill or hang the decoder."""

import ctypes
import time

import rawpy


class RawPy(rawpy.RawPy):
    """LibRaw, with the faults that a damaged file may find in it."""

    def open_buffer(self, fileobj):
        """Crash, hang or swell where the file asks for it; else read it."""
        content = fileobj.read()
        if content.endswith(b"crash"):
            ctypes.string_at(0)  # a segmentation fault
        if content.endswith(b"hang"):
            time.sleep(3600)
        if content.endswith(b"swell"):
            self.held = [bytearray(1 << 28) for _ in range(64)]
        fileobj.seek(0)
        super().open_buffer(fileobj)


rawpy.RawPy = RawPy
